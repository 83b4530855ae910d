package plan

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
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
	Method   string `plan:"method_statement" doc:"number and revision of the method statement"`
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
	"client", "tested_by", "site_address", "drawing", "document", "order", "method_statement", "form"}

// DrawingOf is the drawing of the plan, or of its network where the plan names none.
func (p *Plan) DrawingOf() string {
	if p.Drawing == "" && p.Network != nil {
		return p.Network.Drawing
	}
	return p.Drawing
}

var yearShape = regexp.MustCompile(`^[12][0-9]{3}$`)

// plates notes a year that is none, and one serial number that stands for two pieces of
// plant of one maker.
func (n *Notes) plates(p *Plan) {
	seen := map[string]string{}
	one := func(path string, x Plate) {
		if x.Year != "" && !yearShape.MatchString(x.Year) {
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
