package workbook

import (
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/report"
	"handback/report/grid"
)

// shownReason is a reason that is printed too, in the table of its attempt.
type shownReason struct {
	of spot
	i  int
	at grid.Cell // its words; its verdict stands in the same row
}

// besideReasons lays out, beside the tables of a sheet, why each attempt came to its
// verdict: from its first row on, where there is room. What no cell tells is marked.
func (b *book) besideReasons(s *grid.Sheet, g report.Group) {
	free := 1
	for _, p := range g.Checks {
		for _, a := range p.Attempts {
			spot := spot{p.ID, a.Number, ""}
			free = max(free, b.layout.Attempts[spot].Row)
			var cells []grid.Cell
			for i, r := range a.Reasons {
				s.Beside(free, tight(grid.Verdict(colReason, colReason, r.Verdict)).As(grid.Named("reason", p.ID, a.Number, i+1)), grid.At(colReasonWords, r.Words, faceTight), grid.At(colReasonBy, nil, faceTight))
				cells = append(cells, grid.Cell{Sheet: s.Name, Row: free, Col: colReason})
				free++
			}
			b.layout.Reasons[spot] = cells
		}
	}
}

// linkReasons lets the reasons of an attempt follow from the cells they hang on.
func (b *book) linkReasons(p report.CheckPage, a report.AttemptPage) {
	spot := spot{p.ID, a.Number, ""}
	cells := b.layout.Reasons[spot]
	for i, c := range cells {
		if f := b.reasonFormula(p, a, i, cells); f != "" {
			b.Later(c, f, "")
		} else {
			b.Later(c.In(colReasonBy), "", b.Label(byHandback))
		}
	}
}

// reasonFormula judges a reason again from the cells it hangs on, "" where no cell
// tells it.
func (b *book) reasonFormula(p report.CheckPage, a report.AttemptPage, i int, cells []grid.Cell) string {
	if a.Finding == nil {
		return ""
	}
	on, f := a.Finding.Bases[i], ""
	switch {
	case on.Value != "":
		f = b.layout.Derived[spot{p.ID, a.Number, on.Value}].In(colVerdict).Name()
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
		f = checks.WithoutFailure().Formula(verdictCells(f, "", ""))
	}
	return f
}

// afterFormula lets a reason fall when all that it follows from passes.
func afterFormula(a report.AttemptPage, i int, after []string, cells []grid.Cell) string {
	var pass calc.All
	for n, on := range a.Finding.Bases {
		if n != i && len(on.After) == 0 && (slices.Contains(after, on.Value) || slices.ContainsFunc(a.Reasons[n].Fields, func(f string) bool { return slices.Contains(after, f) })) {
			pass = append(pass, calc.Shows{Cell: cells[n].Name(), Word: checks.Pass.Shown()})
		}
	}
	if len(pass) == 0 {
		return ""
	}
	falls := calc.If{Test: pass, Then: calc.Word(checks.Pass.Shown()), Else: calc.Word(a.Reasons[i].Verdict.Shown())}
	return falls.Formula(func(cell string) string { return cell })
}

// standsFormula is what a check with its verdict at a cell stands as, "" where no verdict
// changes it.
func (b *book) standsFormula(p report.CheckPage, c grid.Cell) string {
	if p.Hangs == report.HangsOnRecord {
		return ""
	}
	changed := "0"
	if a := p.Newest(); a != nil {
		changed = "SUM(" + b.layout.Inputs[spot{p.ID, a.Number, ""}] + ")"
	}
	return report.StandsBy(p.Hangs, p.Verdict).Formula(verdictCells(c.Name(), "", changed))
}

// resultsArea is a column of the results over all checks.
func (b *book) resultsArea(col int) string {
	pages := b.pages
	first, last := b.layout.Results[pages[0].ID].In(col), b.layout.Results[pages[len(pages)-1].ID].In(col)
	return first.Ref() + ":" + last.Name()
}

// overallFormula is the verdict on the job over the results, "" for a plan
// without checks.
func (b *book) overallFormula() string {
	if len(b.pages) == 0 {
		return ""
	}
	head := func(code string) string { return VerdictHeads[code] }
	by := report.OverallBy(b.openHolds(), len(b.doc.Overall.Against), head)
	return by.Formula(func(string) string { return b.resultsArea(colStands) })
}

// standing counts the checks on the results that stand as something.
func (b *book) standing(as string) string {
	return "COUNTIF(" + b.resultsArea(colStands) + "," + grid.Quoted(as) + ")"
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
	if len(b.pages) == 0 {
		return ""
	}
	stops, accepted, holds := b.standing(report.StandsStop), b.standing(report.StandsAccepted), b.openHolds()
	against := ""
	if n := len(b.doc.Overall.Against); n > 0 {
		against = report.Count(n, "point", "points") + " against it"
	}
	rest := ""
	if holds > 0 {
		rest = " and " + report.Count(holds, "hold point", "hold points")
	}
	open, without := "("+stops+"+"+b.standing(report.StandsOpen)+")", report.JoinWords(report.OpenWords(0, holds), against)
	ready := grid.Quoted(without)
	if without == "" {
		ready = "IF(" + accepted + ">0," + grid.Quoted("with ") + "&" + plural(accepted, "concession", "concessions") + "," + grid.Quoted("every check passes") + ")"
	}
	ready = "IF(" + open + ">0," + plural(open, "check", "checks") + "&" + grid.Quoted(report.JoinWords(rest+" open", against)) + "," + ready + ")"
	return "IF(" + stops + ">0," + plural(stops, "stop stands", "stops stand") + "&" + grid.Quoted(", ") + "&" + plural(open, "check", "checks") + "&" + grid.Quoted(report.JoinWords(" open", against)) + "," + ready + ")"
}
