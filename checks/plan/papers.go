package plan

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"handback/checks/written"
)

// Papers are what a report is known by beside its title: whose it is, who made it, where
// it is filed. All of it may be left out; Lacks tells what a report would want of it.
type Papers struct {
	Client   Firm   `plan:"client" doc:"who ordered the work and gets the report"`
	TestedBy Firm   `plan:"tested_by" doc:"the firm that tests"`
	Address  string `plan:"site_address" doc:"address of the site"`
	Drawing  string `plan:"drawing" doc:"number and revision of the drawing; that of the network when not given"`
	Document Filed  `plan:"document" doc:"number and revision that the report is filed under"`
	Order    string `plan:"order" doc:"number of the order or contract"`

	Method string `plan:"method_statement" doc:"number and revision of the method statement"`

	Procedure string `plan:"procedure" ref:"procedure" doc:"id of the procedure that all follows which names no other"`
}

// Procedure is a document that says how something is done: a method statement, a test
// procedure, a maker's instruction. Plans share it in a file that they include.
type Procedure struct {
	ID       string   `plan:"id,need" doc:"short name that steps and checks call it by"`
	Title    string   `plan:"title,need" doc:"its title"`
	Number   string   `plan:"number,need" doc:"its number"`
	Revision string   `plan:"revision,need" doc:"its revision, or its date of issue where it has none"`
	Sections []string `plan:"sections" doc:"its sections, where no other may be named"`
}

// Words are the number and revision of a procedure.
func (x *Procedure) Words() string { return x.Number + ", revision " + x.Revision }

// Follows is the place in a procedure that a check or step follows.
type Follows struct {
	Procedure string `plan:"procedure" ref:"procedure" doc:"id of the procedure it follows, where it is not that of the plan"`
	Section   string `plan:"section" doc:"section of the procedure it follows"`
	Words     string // with number and revision where it names its procedure; "" where nothing is given
}

// Named are the words where a procedure is named, "" where a section alone is.
func (f Follows) Named() string {
	if f.Procedure == "" {
		return ""
	}
	return f.Words
}

// ProcedureOf finds a procedure by id, nil when there is none.
func (p *Plan) ProcedureOf(id string) *Procedure {
	return find(p.Procedures, id, func(x *Procedure) string { return x.ID })
}

// Followed is the procedure that an item follows: its own, or that of the plan; nil for none.
func (p *Plan) Followed(it Item) *Procedure {
	return p.ProcedureOf(cmp.Or(it.follows().Procedure, p.Procedure))
}

// Naming are the items that name a procedure themselves, by their ids.
func (p *Plan) Naming(procedure string) []string {
	var out []string
	for _, it := range p.items {
		if it.follows().Procedure == procedure {
			out = append(out, it.ID())
		}
	}
	return out
}

// Used are the procedures that the plan or a step of it names; a file of procedures that
// plans share has others.
func (p *Plan) Used() []Procedure {
	var out []Procedure
	for _, x := range p.Procedures {
		if x.ID == p.Procedure || len(p.Naming(x.ID)) > 0 {
			out = append(out, x)
		}
	}
	return out
}

// ProcedureWritten is how the procedure is written that a step follows, "" where it has none.
func (p *Plan) ProcedureWritten(id string) string {
	for _, it := range p.items {
		if x := p.Followed(it); it.ID() == id && x != nil {
			return written.Line(p.item("procedures", x.ID))
		}
	}
	return ""
}

func (it Item) follows() *Follows {
	if it.Check != nil {
		return &it.Check.Follows
	}
	return &it.Does().Follows
}

// procedures holds what is followed against the procedures of the plan, and words it.
func (n *Notes) procedures(p *Plan) {
	seen, ids := map[string]string{}, IDsOf(p.Procedures, func(x Procedure) string { return x.ID })
	for i, id := range ids {
		n.unique(seen, fmt.Sprintf("procedures[%d].id", i+1), "procedure", id)
	}
	known := func(path, id string) {
		if id != "" && !slices.Contains(ids, id) {
			n.At(path, "no procedure %q%s", id, Nearest(id, ids))
		}
	}
	known("procedure", p.Procedure)
	for _, it := range p.items {
		f := it.follows()
		known(it.path()+".procedure", f.Procedure)
		x := p.Followed(it)
		if x != nil && f.Section != "" && x.Sections != nil && !slices.Contains(x.Sections, f.Section) {
			n.At(it.path()+".section", "%s has no section %q: it has %s", x.Words(), f.Section, strings.Join(x.Sections, ", "))
		}
		var words []string
		if x != nil && f.Procedure != "" {
			words = append(words, x.Words())
		}
		if f.Section != "" {
			words = append(words, "section "+f.Section)
		}
		f.Words = strings.Join(words, ", ")
	}
}

// Firm is a firm with where it is found.
type Firm struct {
	Name    string `plan:"name" doc:"name of the firm"`
	Address string `plan:"address" doc:"postal address"`
	Contact string `plan:"contact" doc:"who is asked there, and how"`
	Phone   string `plan:"phone" doc:"telephone number of who is asked there"`
	Email   string `plan:"email" doc:"e-mail address of who is asked there"`
}

// Reached is who is asked there, and how.
func (f Firm) Reached() string {
	return strings.Join(slices.DeleteFunc([]string{f.Contact, f.Phone, f.Email}, func(s string) bool { return s == "" }), ", ")
}

// Filed is what a document is filed under.
type Filed struct {
	Number   string `plan:"number" doc:"number of the document"`
	Revision string `plan:"revision" doc:"its revision"`
}

// OwnForm is the owner's form of a handover. Its files stand beside the plan, and are
// frozen into a job with it.
type OwnForm struct {
	Logo    string `plan:"logo" doc:"PNG file beside the plan, shown on the first page"`
	Heading string `plan:"heading" doc:"stands at the head of every page"`
	Number  string `plan:"number" doc:"number and issue of the form, at the head of every page"`
	Labels  string `plan:"labels" doc:"file of fixed labels in another language beside the plan, or a language that ships, such as de"`
}

// Plate is what tells one piece of plant from all others.
type Plate struct {
	Maker  string `plan:"maker" doc:"who made it"`
	Serial string `plan:"serial" doc:"serial number of the maker"`
	Year   string `plan:"year" doc:"year of make, such as 2009"`
	Asset  string `plan:"asset" doc:"the owner's number for it"`
}

// plateKeys are the keys of a Plate in a plan.
var plateKeys = []string{"maker", "serial", "year", "asset"}

// paperKeys are the root keys that name people, places and papers: no check is judged
// with them.
var paperKeys = []string{"steps", "instruments", "people", "imports", "title", "site", "work", "permit",
	"client", "tested_by", "site_address", "drawing", "document", "order", "method_statement", "procedure", "procedures", "form"}

// DrawingOf is the drawing of the plan, or of its network where the plan names none.
func (p *Plan) DrawingOf() string {
	if p.Drawing == "" && p.Network != nil {
		return p.Network.Drawing
	}
	return p.Drawing
}

var yearShape = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[12][0-9]{3}$`) })

// plates notes a year that is none, and one serial number that stands for two pieces of
// plant of one maker.
func (n *Notes) plates(p *Plan) {
	seen := map[string]string{}
	one := func(path string, x Plate) {
		if x.Year != "" && !yearShape().MatchString(x.Year) {
			n.Object(path+".year", "%q is no year: write it in full, such as 2009", x.Year)
		}
		if x.Serial == "" {
			return
		}
		key := folded(x.Maker) + "\n" + folded(x.Serial)
		if first, ok := seen[key]; ok {
			n.Object(path+".serial", "serial %s stands already at %s: one piece of plant stands once", x.Serial, n.lineOf(first))
			return
		}
		seen[key] = path + ".serial"
	}
	for i, t := range p.Plant.Transformers {
		one(fmt.Sprintf("plant.transformers[%d]", i+1), t.Plate)
	}
	for i, x := range p.Plant.Incomers {
		one(fmt.Sprintf("plant.incomers[%d]", i+1), x.Plate)
	}
	for i, b := range p.Plant.Boards {
		one(fmt.Sprintf("plant.boards[%d]", i+1), b.Plate)
	}
}

// ownForm notes what no page could show, and files that do not stand beside the plan: a
// plan from elsewhere does not say what is read of a computer.
func (n *Notes) ownForm(f OwnForm) {
	for _, x := range []struct {
		key, text string
		most      int
	}{{"heading", f.Heading, 100}, {"number", f.Number, 60}} {
		if utf8.RuneCountInString(x.text) > x.most || strings.ContainsAny(x.text, "\n\t") {
			n.Object("form."+x.key, "one line of at most %d characters is accepted, so that the head of a page can show it", x.most)
		}
	}
	for key, file := range map[string]string{"logo": f.Logo, "labels": f.Labels} {
		if file != "" && (!written.Beside(file) || strings.HasSuffix(file, "/")) {
			n.Object("form."+key, "%q: a file beside the plan is wanted, such as logo.png", file)
		}
	}
}

// ReportRule is what says what a report of tests carries.
const ReportRule = "ISO/IEC 17025:2017"

// Lack is something that a report after ReportRule gives and a plan does not say. What
// every handover gives of itself is not among it: its title, the methods, the dates, the
// results with units, the decision rule.
type Lack struct {
	Clause string // of ReportRule, such as 7.8.2.1 b)
	Path   string // where it would stand in the plan
	What   string // what it is
}

// Words tell it as a plan's reader is told.
func (l Lack) Words() string {
	return fmt.Sprintf("not given in full: %s, which a report states (%s, %s)", l.What, ReportRule, l.Clause)
}

// Lacks lists what a report after ReportRule needs and the plan does not give, in the
// order of its clauses.
func (p *Plan) Lacks() []Lack {
	var out []Lack
	want := func(given bool, clause, path, what string) {
		if !given {
			out = append(out, Lack{"7.8.2.1 " + clause, path, what})
		}
	}
	want(p.TestedBy.Name != "" && p.TestedBy.Address != "", "b)", "tested_by", "name and address of the firm that tested")
	want(p.Address != "", "c)", "site_address", "the address of the site")
	want(p.Document.Number != "", "d)", "document.number", "a number of its own")
	want(p.Client.Name != "" && p.Client.Address+p.Client.Reached() != "", "e)", "client", "name of the client, with contact or address")
	for i, t := range p.Plant.Transformers {
		want(t.Serial+t.Asset != "", "g)", fmt.Sprintf("plant.transformers[%d].serial", i+1), "serial or asset number of "+t.ID)
	}
	for i, b := range p.Plant.Boards {
		want(b.Serial+b.Asset != "", "g)", fmt.Sprintf("plant.boards[%d].serial", i+1), "serial or asset number of "+b.ID)
	}
	authorises := func(q Person) bool { return q.Role == "engineer" || q.Role == "owner" }
	want(slices.ContainsFunc(p.People, authorises), "o)", "people", "an engineer or owner, who authorises it")
	return out
}

// Wanting are the Lacks of the plan with the lines they belong to, in the same order. They
// refuse nothing.
func (p *Plan) Wanting() Problems { return p.wanting }

// wants puts the lacks of a plan to their lines.
func (n *Notes) wants(p *Plan) Problems {
	var out Problems
	for _, l := range p.Lacks() {
		out = append(out, n.problem(l.Path, "%s", l.Words()))
	}
	return out
}

// plantWritten is how the plant is written but for what only tells one piece from others.
func plantWritten(plant *yaml.Node) string {
	var out string
	for _, list := range written.Members(plant) {
		if list.Node.Kind != yaml.SequenceNode {
			out += list.Key + ": " + written.Line(list.Node) + "\n"
			continue
		}
		for _, item := range list.Node.Content {
			out += list.Key + ": {" + written.Leaving(item, plateKeys...) + "}\n"
		}
	}
	return out
}
