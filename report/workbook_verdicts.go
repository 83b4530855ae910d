package report

import (
	"slices"
	"strings"

	"handback/checks"
	"handback/records"
)

// reasons lays out why an attempt came to its verdict. What no cell tells is marked.
func (b *book) reasons(s *sheet, p CheckPage, a AttemptPage) {
	var cells []Cell
	for i, r := range a.Reasons {
		word := verdict(1, 1, r.Verdict).as(named("reason", p.ID, a.Number, i+1))
		word.look.size = 8
		row := s.add(word, across(2, colRemark-1, r.Words, faceCell), at(colRemark, nil, faceCell))
		cells = append(cells, Cell{s.name, row, 1})
	}
	b.layout.Reasons[Spot{p.ID, a.Number, ""}] = cells
}

// linkReasons lets the reasons of an attempt follow from the cells they hang on, and its
// verdict from them.
func (b *book) linkReasons(p CheckPage, a AttemptPage) {
	spot := Spot{p.ID, a.Number, ""}
	cells := b.layout.Reasons[spot]
	for i, c := range cells {
		if f := b.reasonFormula(p, a, i, cells); f != "" {
			b.late[c] = lateCell{formula: f}
		} else {
			b.late[c.In(colRemark)] = lateCell{words: byHandback}
		}
	}
	if a.Finding != nil && len(cells) > 0 {
		b.late[b.layout.Attempts[spot]] = lateCell{formula: worstFormula(cells[0], cells[len(cells)-1], len(cells), b.layout.Inputs[spot])}
	}
}

// reasonFormula judges a reason again from the cells it hangs on, "" where no cell
// tells it.
func (b *book) reasonFormula(p CheckPage, a AttemptPage, i int, cells []Cell) string {
	if a.Finding == nil {
		return ""
	}
	on, f := a.Finding.Bases[i], ""
	switch {
	case on.Value != "":
		f = b.layout.Derived[Spot{p.ID, a.Number, on.Value}].In(colVerdict).Name()
	case on.Answers != nil:
		var at []string
		for n, field := range on.Answers.Fields {
			c, ok := b.answerCell(field, on.Answers.Was[n], p, a)
			if !ok {
				return ""
			}
			at = append(at, c.Ref())
		}
		f = on.Answers.Formula(at)
	case len(on.After) > 0:
		return afterFormula(a, i, on.After, cells)
	default:
		return ""
	}
	if on.Doubted {
		f = withoutFailure(f)
	}
	return f
}

// afterFormula lets a reason fall when all that it follows from passes.
func afterFormula(a AttemptPage, i int, after []string, cells []Cell) string {
	var pass []string
	for n, on := range a.Finding.Bases {
		if n != i && len(on.After) == 0 && (slices.Contains(after, on.Value) || slices.ContainsFunc(a.Reasons[n].Fields, func(f string) bool { return slices.Contains(after, f) })) {
			pass = append(pass, cells[n].Name()+"="+verdictText(checks.Pass))
		}
	}
	if len(pass) == 0 {
		return ""
	}
	return "IF(AND(" + strings.Join(pass, ",") + ")," + verdictText(checks.Pass) + "," + verdictText(a.Reasons[i].Verdict) + ")"
}

// judged is the newest attempt that was judged, nil when there is none.
func (p CheckPage) judged() *AttemptPage {
	for i := len(p.Attempts) - 1; i >= 0; i-- {
		if p.Attempts[i].Judged {
			return &p.Attempts[i]
		}
	}
	return nil
}

// standsFormula is stands for a verdict at a cell, "" where no verdict changes it. A
// concession holds for the verdict it was given for, as long as no answer was changed.
func (b *book) standsFormula(p CheckPage, c Cell) string {
	f := "IF(" + c.Name() + "=" + verdictText(checks.Pass) + "," + quoted(standsClosed) + "," + quoted(standsOpen) + ")"
	switch p.Hangs {
	case HangsOnRecord:
		return ""
	case Accepted:
		same := c.Name() + "=" + verdictText(p.Verdict)
		if a := p.judged(); a != nil {
			same = "AND(" + same + ",SUM(" + b.layout.Inputs[Spot{p.ID, a.Number, ""}] + ")=0)"
		}
		return "IF(" + same + "," + quoted(standsAccepted) + "," + f + ")"
	case HangsOnStop:
		return "IF(" + c.Name() + "=" + verdictText(p.Verdict) + "," + quoted(standsStop) + "," + f + ")"
	}
	return f
}

// resultsArea is a column of the sheet of results over all checks.
func (b *book) resultsArea(col int) string {
	pages := b.doc.Pages()
	first, last := b.layout.Results[pages[0].ID].In(col), b.layout.Results[pages[len(pages)-1].ID].In(col)
	return first.Ref() + ":" + last.Name()
}

// overallFormula is the verdict on the job over the sheet of results, "" for a plan
// without checks.
func (b *book) overallFormula() string {
	if len(b.doc.Pages()) == 0 {
		return ""
	}
	head := func(code string) string { return quoted(verdictHeads[code]) }
	ready := "IF(" + b.standing(standsAccepted) + ">0," + head(records.ReadyWithConcessions) + "," + head(records.Ready) + ")"
	if b.openHolds() > 0 || len(b.doc.Overall.Against) > 0 {
		ready = head(records.NotReady)
	}
	return "IF(" + b.standing(standsStop) + ">0," + head(records.Stopped) + ",IF(" + b.standing(standsOpen) + ">0," + head(records.NotReady) + "," + ready + "))"
}

// standing counts the checks on the sheet of results that stand as something.
func (b *book) standing(as string) string {
	return "COUNTIF(" + b.resultsArea(colStands) + "," + quoted(as) + ")"
}

func (b *book) openHolds() int {
	n := 0
	for _, h := range b.doc.Holds {
		if h.Taken == "" {
			n++
		}
	}
	return n
}

// overallRestFormula is what the verdict on the job comes of, in words.
func (b *book) overallRestFormula() string {
	if len(b.doc.Pages()) == 0 {
		return ""
	}
	stops, accepted, holds := b.standing(standsStop), b.standing(standsAccepted), b.openHolds()
	open := "(" + stops + "+" + b.standing(standsOpen) + ")"
	against := ""
	if n := len(b.doc.Overall.Against); n > 0 {
		against = "; " + Count(n, "point", "points") + " against it"
	}
	notReady := plural(open, "check", "checks") + "&" + quoted(" and "+Count(holds, "hold point", "hold points")+" open"+against)
	ready := "IF(" + accepted + ">0," + quoted("with ") + "&" + plural(accepted, "concession", "concessions") + "," + quoted("every check passes") + ")"
	if holds == 0 && against == "" {
		ready = "IF(" + open + ">0," + notReady + "," + ready + ")"
	} else {
		ready = notReady
	}
	return "IF(" + stops + ">0," + plural(stops, "stop stands", "stops stand") + "&" + quoted(", ") + "&" + plural(open, "check", "checks") + "&" + quoted(" open"+against) + "," + ready + ")"
}

// unchangedWords say that nothing in the workbook was changed so that a verdict changed.
const unchangedWords = "Every check comes to the verdict that handback recorded. The verdicts and values of this workbook are formulas over its readings and limits, the uncertainties over their budgets."

// sameFormula says how many checks come to another verdict than was recorded.
func (b *book) sameFormula() string {
	n := "SUMPRODUCT(--(" + b.resultsArea(colResult) + "<>" + b.resultsArea(colRecorded) + "))"
	return "IF(" + n + "=0," + quoted(unchangedWords) + "," + quoted("CHANGED: ") + "&" + plural(n, "check comes", "checks come") + "&" +
		quoted(" to another verdict than handback recorded. A cell of this workbook was changed; the signed record was not.") + ")"
}
