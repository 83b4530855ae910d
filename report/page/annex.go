package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/report"
)

// annexes are what nobody reads through before signing: closed on the screen, not printed.
type annexes struct {
	Methods     []method
	Workings    []working
	Instruments *table
	Entries     *table
}

// method is how a kind of check is judged, told once.
type method struct {
	Anchor, Kind, Shows, How, Sources string
	Checks                            []string // ids, of its kind
}

// working is how the values of an attempt were worked out and what was found, in words.
type working struct {
	Title   string
	Reasons []line
	Lines   []string
}

func methodAnchor(kind string) string { return "method-" + kind }

func newAnnexes(d *report.Document) annexes {
	var out annexes
	for i, p := range d.Pages() {
		k := slices.IndexFunc(out.Methods, func(m method) bool { return m.Kind == p.Kind })
		if k < 0 {
			k = len(out.Methods)
			out.Methods = append(out.Methods, method{Anchor: methodAnchor(p.Kind), Kind: p.Kind, Shows: report.OneLine(p.Shows), How: report.OneLine(p.How), Sources: strings.Join(p.Sources, "; ")})
		}
		out.Methods[k].Checks = append(out.Methods[k].Checks, p.ID)
		for _, a := range p.Attempts {
			if w := newWorking(a); len(w.Reasons)+len(w.Lines) > 0 {
				w.Title = fmt.Sprintf("%d %s, attempt %d", i+1, p.Title, a.Number)
				out.Workings = append(out.Workings, w)
			}
		}
	}
	out.Instruments = newTable("Ranges and accuracy of the instruments", "id", "instrument", "category", "ranges and accuracy")
	for _, m := range d.Instruments {
		out.Instruments.add(text(m.ID), text(m.Name), text(m.Category), below("", m.Accuracy...))
	}
	out.Instruments = out.Instruments.orNil()
	out.Entries = newTable("Every entry of the record with its SHA-256; each is chained to the one before.", "entry|num", "when, by", "kind, check", "what|kept-lines", "SHA-256 of the entry")
	out.Entries.Quiet = false
	for _, l := range d.Log {
		out.Entries.add(text(strconv.Itoa(l.Seq)), below(l.When, l.By), below(l.Kind, l.Check), text(l.Text), cell{Text: l.Hash, Code: true})
	}
	return out
}

func newWorking(a report.AttemptPage) (w working) {
	for _, r := range a.Reasons {
		w.Reasons = append(w.Reasons, line{r.Verdict.String(), r.Words})
	}
	for _, d := range a.Derived {
		for _, l := range d.Working() {
			if !slices.Contains(w.Lines, l) { // a step that several values share stands once
				w.Lines = append(w.Lines, l)
			}
		}
	}
	return w
}
