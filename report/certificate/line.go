// Package certificate says, as data, what stands on the pages that are signed: one line
// a check with the value that decided it. Workbook, page and text lay it out.
package certificate

import (
	"fmt"

	"handback/checks"
	"handback/report"
)

// Line is a check in one line.
type Line struct {
	Number    int // in the order of the handover, from 1
	ID        string
	Title, At string
	Verdict   checks.Verdict // as shown: a pass that does not count any longer is none
	State     string         // the verdict in words, with concession or skip
	Attempts  int
	Decided   string   // name of the value that decided, or how many points did where none is a number
	Value     string   // with its uncertainty and unit, "" where no number decided
	Limit     string   // without its source
	Source    string   // of the limit
	Margin    string   // from the value to its limit in the value's unit, negative beyond it
	Until     string   // when the check lapses, "" when it does not
	Why       string   // what stands against it; "" for a pass
	Changes   []string // from the plan's baseline, each with what the value was
}

// Lines are all checks of a handover, in its order.
func Lines(d *report.Document) []Line {
	var out []Line
	for i, p := range d.Pages() {
		l := Line{Number: i + 1, ID: p.ID, Title: p.Title, At: p.At, Verdict: p.Shown(), State: p.State, Attempts: len(p.Attempts)}
		if l.Verdict != checks.Pass {
			l.Why = p.Why
		}
		if a := p.Newest(); a != nil {
			l.decide(a)
		}
		out = append(out, l)
	}
	return out
}

// decide fills in what decided the newest attempt that was judged.
func (l *Line) decide(a *report.AttemptPage) {
	l.Until = a.Until
	for _, d := range a.Derived {
		if d.Since != nil {
			l.Changes = append(l.Changes, d.ChangeText())
		}
	}
	if d, ok := checks.Deciding(a.Derived); ok && (a.Verdict == checks.Pass || d.Verdict != checks.Pass) {
		l.Decided, l.Value, l.Limit, l.Source, l.Margin = d.Name, d.Text(), d.BareLimit(), d.Limit.Source, d.MarginText()
		return
	}
	against := 0
	for _, r := range a.Reasons {
		if r.Verdict != checks.Pass {
			against++
		}
	}
	switch n := len(a.Reasons); {
	case against > 0:
		l.Decided = fmt.Sprintf("%s not met", report.Count(against, "condition", "conditions"))
	case n == 1:
		l.Decided = a.Reasons[0].Words
	default:
		l.Decided = fmt.Sprintf("all %d as required", n)
	}
}
