package page

import (
	"fmt"
	"strconv"
	"strings"

	"handback/checks"
	"handback/report"
	"handback/report/certificate"
)

// newIdentity tells whose plant was worked on, by whom, where, when and by which papers;
// then every piece of plant in a line.
func newIdentity(d *report.Document) (papers, plates []fact) {
	said := map[string]string{}
	for _, x := range d.Identity {
		switch {
		case x.Of == "":
			said[x.Key] = x.Text
		case strings.HasSuffix(x.Key, ".name"):
			plates = append(plates, fact{Label: strings.ToLower(x.Label), Text: x.Text})
		case len(plates) > 0:
			plates[len(plates)-1].Text += "; " + strings.ToLower(x.Label) + " " + x.Text
		}
	}
	add := func(label string, words ...string) {
		text := ""
		for _, w := range words {
			text = report.JoinWords(text, w)
		}
		if text != "" {
			papers = append(papers, fact{Label: label, Text: text})
		}
	}
	add("document", said["document.number"], said["document.revision"])
	add("date of issue", said["issued"])
	add("client", said["client.name"], said["client.address"], said["client.contact"])
	add("tested by", said["tested_by.name"], said["tested_by.address"], said["tested_by.contact"])
	add("site", d.Site, said["site_address"])
	add("work done", d.Work)
	add("order", said["order"])
	add("method statement", said["method_statement"])
	for _, x := range d.Identity {
		if strings.HasPrefix(x.Key, "procedure.") {
			add("procedure", x.Text)
		}
	}
	add("permit", report.OrNone(d.Permit))
	add("drawing", said["drawing"])
	add("plan", d.PlanID+", file "+d.PlanFile)
	add("work from", d.Opened)
	add("to", d.Last)
	add("job identifier", d.Identifier)
	return papers, plates
}

// newResults is every check in a line, with the value that decided it.
func newResults(d *report.Document) *table {
	t := newTable("Results, every check in a line", "check", "decided by", "value|num tight", "limit", "margin|num tight", "verdict")
	t.Class = "results"
	for _, l := range certificate.Lines(d) {
		check := cell{Text: fmt.Sprintf("%d %s (%s)", l.Number, l.Title, l.ID), Link: checkAnchor(l.Number)}
		verdict := cell{Mark: l.Verdict.String()}
		if more := report.OnlyIfMore(l.State, l.Verdict.String()); more != "" {
			verdict.More = append(verdict.More, line{Text: more})
		}
		limit := l.Limit
		if l.Source != "" {
			limit += " (" + l.Source + ")"
		}
		t.add(check, below(l.Decided, l.Why), text(l.Value), text(limit), text(l.Margin), verdict)
	}
	return t.orNil()
}

func checkAnchor(number int) string { return "check-" + strconv.Itoa(number) }

func newStops(d *report.Document) *table {
	t := newTable("Stops", "check, attempt", "words", "what became of it")
	for _, s := range d.Stops {
		r := t.add(text(fmt.Sprintf("%s, attempt %d", s.Check, s.Attempt)), cell{Mark: "STOP", Text: s.Title + ": " + s.Text}, text(s.Outcome))
		if s.Standing {
			r.Class = "standing"
		}
	}
	return t.orNil()
}

// newHolds tells of each hold point when its step was done and on whose word, or what it
// waits for in short; the log has that in full.
func newHolds(d *report.Document) *table {
	t := newTable("Hold points", "hold", "step", "what became of it")
	for _, h := range d.Holds {
		t.add(text(h.ID), text(h.Action), cell{Text: report.HoldWords(h), Loud: h.Taken == "" || len(h.Open) > 0})
	}
	return t.orNil()
}

func newConcessions(d *report.Document) *table {
	t := newTable("Concessions", "check, attempt", "finding", "accepted")
	for _, c := range d.Concessions {
		t.add(text(c.Check+", "+c.Of), cell{Mark: c.Verdict, Text: c.Title + ": " + c.Finding}, kept("by "+c.Engineer+", "+c.When+": "+c.Reason+"; "+c.Proof))
	}
	return t.orNil()
}

// newOpen is what stays open: defects, then flags, of which it leaves many to the log.
func newOpen(d *report.Document) (t *table, more int) {
	t = newTable("Open points", "where", "about", "what")
	for _, x := range d.Defects {
		if x.Open {
			t.add(text("defect "+strconv.Itoa(x.Number)), text("defect"), text(x.Words+"; raised by "+x.By+", "+x.When))
		}
	}
	flags := 0
	for _, f := range d.Flags {
		switch {
		case !f.Open:
		case flags < report.CoverFlags:
			flags++
			t.add(text(report.FlagPlace(f)), text(f.What), text(f.Text))
		default:
			more++
		}
	}
	return t.orNil(), more
}

func newInstruments(d *report.Document) *table {
	t := newTable("Instruments", "id|tight", "instrument", "serial|tight", "certificate|tight", "due|tight", "in date|tight", "used in")
	for _, m := range d.Instruments {
		t.add(text(m.ID), text(m.Name), text(m.Serial), text(m.Certificate), text(m.DueText), inDate(m), text(usedIn(m)))
	}
	return t.orNil()
}

func inDate(m report.MeterLine) cell {
	if m.InDate == "no" {
		return cell{Mark: checks.Fail.String(), Text: "no"}
	}
	return text(m.InDate)
}

func usedIn(m report.MeterLine) string {
	if len(m.UsedIn) == 0 {
		return "not used"
	}
	return strings.Join(m.UsedIn, ", ")
}

// newBoxes is where people sign, by pen or by key, each below what a signature there says.
func newBoxes(d *report.Document) *table {
	t := newTable("Sign on paper, with the date, once the head hash below was compared with the record.", "what is signed", "name|tight", "role, employer", "date", "signature")
	t.Quiet, t.Class = false, "signing"
	for _, b := range certificate.Boxes(d) {
		act := below(d.Form.Labels.Of(b.Act), d.Form.Labels.Of(b.Means))
		for _, s := range b.People {
			signature := text(s.Signed)
			if s.Doubt != "" {
				signature.More = []line{{Text: "NOT SHOWN TO BE GOOD: " + s.Doubt}}
			}
			t.add(act, text(s.Name), text(s.Role+", "+s.Firm), cell{}, signature)
			act = text(d.Form.Labels.Of(b.Act))
		}
		if len(b.People) == 0 {
			t.add(act, cell{}, cell{}, cell{}, cell{})
		}
	}
	return t
}
