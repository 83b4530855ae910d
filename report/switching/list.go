package switching

import (
	"fmt"
	"strconv"
	"strings"

	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
	"handback/templates"
)

// Caution stands on every list of switching.
const Caution = "This list authorises nothing. Each step is done on the instruction of the person in control alone; local rules and the safety documents come first. What is found otherwise than written stops the switching."

// row is one line of the list: a step with columns to fill, or a check in its place.
type row struct {
	number int
	id     string
	what   string
	hold   string   // what must have passed first, "" for none
	with   string   // lock, key and document
	more   []string // section, planned time, who confirms, note
	facts  []string
	step   bool // it is instructed and done; of a check, only the result is filled in
	second bool // a second person confirms it
}

// rows are all items of a plan in order.
func rows(p *plan.Plan) []row {
	var out []row
	for i, it := range p.Items() {
		r := row{number: i + 1, id: it.ID(), facts: Facts(p, i+1)}
		s := it.Does()
		if s == nil {
			c := it.Check
			r.what = fmt.Sprintf("check %s (%s): %s", c.ID, c.Kind.Name, c.Title)
			if c.At != "" {
				r.what += ", " + c.At
			}
			r.more = []string{c.Follows.Words, planned(c.Planned), c.Note}
			out = append(out, r)
			continue
		}
		r.step, r.what, r.second = true, s.Action, s.Confirm
		if it.Hold != nil {
			r.hold = "HOLD: do not proceed"
			if len(it.Hold.Needs) > 0 {
				r.hold += " until passed: " + strings.Join(it.Hold.Needs, ", ")
			}
		}
		r.with = labelled(", ", "lock", s.Lock, "key", s.Key, "document", s.Document)
		r.more = []string{s.Follows.Words, planned(s.Planned), s.Note}
		out = append(out, r)
	}
	return out
}

// labelled joins pairs of a label and a text, without those that have no text.
func labelled(between string, pairs ...string) string {
	var out []string
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			out = append(out, pairs[i]+" "+pairs[i+1])
		}
	}
	return strings.Join(out, between)
}

func planned(at *quantity.Second) string {
	if at == nil {
		return ""
	}
	return "planned at " + strconv.FormatFloat(float64(*at)/60, 'g', 4, 64) + " min"
}

// head is what a list begins with: what and where, permit, drawing, the dry run.
func head(p *plan.Plan) [][2]string {
	out := [][2]string{{"work: ", p.Work}, {"site: ", p.Site}, {"permit: ", p.Permit}}
	if p.Network == nil {
		return append(out, [2]string{"", "no network in the plan: no step was tried in a dry run"})
	}
	out = append(out, [2]string{"drawing: ", p.Network.Drawing}, [2]string{"", Summary(p)})
	if p.Played().Refused() {
		out = append(out, [2]string{"", "NOT FOR USE as it stands: the dry run refuses a step below"})
	}
	return out
}

// textWidth is how wide the list is printed, for paper and a terminal alike.
const textWidth = 92

// Text is the list of switching in plain text, with lines to fill in by hand.
func Text(p *plan.Plan) string {
	var w strings.Builder
	fmt.Fprintf(&w, "LIST OF SWITCHING: %s\n", p.Title)
	for _, h := range head(p) {
		if h[1] != "" {
			w.WriteString(under(h[0], h[1]))
		}
	}
	w.WriteString(under("", Caution) + "\n")
	for _, r := range rows(p) {
		w.WriteString(r.text())
	}
	for _, words := range Left(p) {
		w.WriteString(under("", words))
	}
	return w.String()
}

// text is a row with the lines under it.
func (r row) text() string {
	var w strings.Builder
	num := fmt.Sprintf("%2d  ", r.number)
	if r.hold != "" {
		w.WriteString(under(num, r.hold))
		num = "    "
	}
	w.WriteString(under(num, r.what))
	var about []string
	for _, a := range append([]string{r.with}, r.more...) {
		if a != "" {
			about = append(about, a)
		}
	}
	if r.second {
		about = append(about, "a second person confirms")
	}
	if len(about) > 0 {
		w.WriteString(under("    ", strings.Join(about, "; ")))
	}
	for _, f := range r.facts {
		w.WriteString(under("    > ", f))
	}
	if r.step {
		w.WriteString("    instructed ____________  done ____________  confirmed ____________  time _______\n\n")
	} else {
		w.WriteString("    result ________________________________________________________  time _______\n\n")
	}
	return w.String()
}

// under puts text after a beginning, its further lines under the first.
func under(begin, text string) string {
	pad := strings.Repeat(" ", len([]rune(begin)))
	return begin + strings.ReplaceAll(templates.Wrap(textWidth-len(pad), report.Plain(text)), "\n", "\n"+pad) + "\n"
}
