package page

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/report"
)

// newSteps is one log of what was done on the plant, hold points among the other steps, in
// the order of their times; what was not done stands at its end.
func newSteps(d *report.Document) *table {
	type act struct {
		cells []cell
		taken time.Time
		done  bool
	}
	var acts []act
	add := func(taken, id, action, section, words string, done bool) {
		a := act{cells: []cell{text(id), text(action), text(section), {Text: words, Loud: !done}}}
		if at, err := time.Parse(report.StampLayout, taken); err == nil {
			a.taken, a.done = at, true
		}
		acts = append(acts, a)
	}
	for _, s := range d.Steps {
		add(s.Taken, s.ID, s.Action, cmp.Or(s.Follows, s.Section), s.Words, s.Done)
	}
	for _, h := range d.Holds {
		add(h.Taken, h.ID, h.Action, report.JoinWords(d.Form.Labels.Of("hold point"), h.Follows), report.HoldWords(h), h.Taken != "")
	}
	slices.SortStableFunc(acts, func(a, b act) int {
		if a.done != b.done {
			return map[bool]int{true: -1, false: 1}[a.done]
		}
		return a.taken.Compare(b.taken)
	})
	t := newTable("Steps", "step", "act", "section|tight", "what became of it")
	if len(d.Steps) == 0 { // the hold points stand on the certificate
		return nil
	}
	for _, a := range acts {
		t.add(a.cells...)
	}
	return t.orNil()
}

// newGaps tells what hold points wait for, or waited for when they were passed over: each
// point once, with the holds that name it.
func newGaps(d *report.Document) *table {
	t := newTable("What hold points wait for", "open point", "verdict", "why", "hold points")
	at := map[[3]string]int{}
	for _, h := range d.Holds {
		name := h.ID
		if h.Taken != "" {
			name += " (done all the same)"
		}
		for _, g := range h.Open {
			key := [3]string{g.Name(), g.Title, g.Words()}
			if i, ok := at[key]; ok {
				t.Rows[i].Cells[3].Text += ", " + name
				continue
			}
			at[key] = len(t.Rows)
			verdict := cell{}
			if g.Check != "" { // a step or a rule has no verdict
				verdict.Mark = g.Verdict.String()
			}
			t.add(text(g.Name()+", "+g.Title), verdict, text(g.Words()), text(name))
		}
	}
	return t.orNil()
}

// newRegisters are keys, locks, safety documents and earths in one table. A time of the day
// on which the job was opened has no date.
func newRegisters(d *report.Document) *table {
	t := newTable("Keys, locks, safety documents and earths", "register", "number", "where", "out", "in")
	moved := func(how, at, by string) string {
		if at == "" {
			return ""
		}
		return how + " " + clock(at, d.Opened) + " by " + by
	}
	for _, r := range d.Registers {
		for _, w := range r.Rows {
			in := below(moved(r.In, w.InAt, w.InBy), w.Cleared)
			if w.InAt == "" {
				in.Text, in.Loud = "NOT "+strings.ToUpper(r.In), true
			}
			t.add(text(r.Name), text(w.Number), text(w.Where), text(moved(r.Out, w.OutAt, w.OutBy)), in)
		}
	}
	return t.orNil()
}

func newFlags(d *report.Document) *table {
	t := newTable("Flags", "where", "about", "flag", "state")
	for _, f := range d.Flags {
		t.add(text(report.FlagPlace(f)), text(f.What), text(f.Text), openOr(f.Open, "closed"))
	}
	return t.orNil()
}

func newDefects(d *report.Document) *table {
	t := newTable("Defects", "number|num", "what", "raised by", "when", "state")
	for _, x := range d.Defects {
		t.add(text(strconv.Itoa(x.Number)), text(x.Words), text(x.By), text(x.When), openOr(x.Open, x.State))
	}
	return t.orNil()
}

func newNotes(d *report.Document) *table {
	t := newTable("Notes", "entry|num", "check", "by", "when", "words")
	for _, n := range d.Notes {
		t.add(text(strconv.Itoa(n.Entry)), text(n.Check), text(n.By), text(n.When), kept(n.Text))
	}
	return t.orNil()
}
