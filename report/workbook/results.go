package workbook

import (
	"slices"

	"handback/checks"
	"handback/report"
	"handback/report/certificate"
	"handback/report/grid"
)

// results lays out every check in a line with what decided it. Its verdict is the one on
// its own sheet; what it stands as, and was recorded as, stands beside.
func (b *book) results(s *grid.Sheet) {
	certSection(s, "Results, one line a check")
	head := func(from, to int, name string) grid.Box { return tight(grid.Across(from, to, name, grid.FaceColumn)) }
	row := s.Add(head(certNumber, certNumber, "no"), head(certLabel, certTitle, "check"), head(certDecided, certDecided, "decided by"), head(certValue, certValue, "value ± U"),
		head(certLimit, certLimit, "limit"), head(certMargin, certMargin, "margin"), head(colResult, colResult, "verdict"))
	s.Beside(row, head(colStands, colStands, "stands"), head(colRecorded, colRecorded, "as recorded"), head(certEntry, certEntry, "entry"), head(certAttempts, certAttempts, "attempts"), head(colWhy, colWhy, "why"))
	s.Flow()
	pages := b.pages
	for i, l := range certificate.Lines(b.doc) {
		b.result(s, l, pages[i])
	}
	s.Add(grid.Across(1, certPrinted, b.verdictWords(), faceCertText))
}

// result lays out a check.
func (b *book) result(s *grid.Sheet, l certificate.Line, p report.CheckPage) {
	decided := grid.Across(certDecided, certMargin, l.Decided, faceTight)
	var boxes []grid.Box
	if l.Value != "" {
		decided.Span = 1
		boxes = append(boxes, grid.At(certValue, l.Value, faceTight), grid.At(certLimit, l.Limit, faceTight), grid.At(certMargin, l.Margin, faceTight))
	}
	title := l.Title
	if l.State != l.Verdict.String() && p.State != p.Verdict.String() {
		title += " (" + l.State + ")"
	}
	row := s.Add(append(boxes, grid.Whole(certNumber, l.Number), grid.Across(certLabel, certTitle, title, faceTight), decided, tight(grid.Verdict(colResult, colResult, p.Verdict)).As(grid.Named("result", p.ID)))...)
	s.Change(row, func(b *grid.Box) {
		if b.Col == certNumber {
			b.Look = faceTight
		}
	})
	entry := 0
	for _, a := range p.Attempts {
		if a.Entry > 0 {
			entry = a.Entry
		}
	}
	s.Beside(row, grid.At(colStands, report.Stands(p.Hangs, p.Verdict), faceTight).As(grid.Named("stands", p.ID)), grid.At(colRecorded, grid.WordOf(p.Verdict), faceTight).As(grid.Named("recorded", p.ID)),
		tight(grid.Whole(certEntry, entry)), tight(grid.Whole(certAttempts, len(p.Attempts))), grid.At(colWhy, report.WhyItStands(p), faceTight))
	c := grid.Cell{Sheet: s.Name, Row: row, Col: colResult}
	b.layout.Results[p.ID] = c
	s.Later(c, b.layout.Checks[p.ID].Ref(), "")
	s.Later(c.In(colStands), b.standsFormula(p, c), "")
	b.asDecided(s, c, l, p)
}

// asDecided lets what decided a check stand only as long as none of its answers was
// changed: these words are those of the record.
func (b *book) asDecided(s *grid.Sheet, c grid.Cell, l certificate.Line, p report.CheckPage) {
	a := p.Newest()
	if a == nil || l.Decided == "" {
		return
	}
	changed := "SUM(" + b.layout.Inputs[spot{p.ID, a.Number, ""}] + ")"
	if w := b.layout.Workings[spot{p.ID, a.Number, ""}]; w != nil && l.Value != "" { // with what it took from earlier checks
		d, _ := checks.Deciding(a.Derived)
		i := slices.IndexFunc(a.Derived, func(x checks.Derived) bool { return x.Key == d.Key })
		changed += "+SUM(" + w.values[i].In(workChanged).Ref() + ")"
	}
	for col, words := range map[int]string{certDecided: l.Decided, certValue: l.Value, certMargin: l.Margin} {
		if words == "" || len(words) > 200 { // no text constant of a formula is longer than 255
			continue
		}
		otherwise := ""
		if col == certDecided {
			otherwise = b.Label("changed: see its test sheet")
		}
		s.Later(c.In(col), "IF("+changed+"=0,"+grid.Quoted(report.Plain(words))+","+grid.Quoted(otherwise)+")", "")
	}
}

// verdictWords explain the verdicts where they are read first.
func (b *book) verdictWords() string {
	out := ""
	for _, m := range verdictMeanings {
		out = report.JoinWords(out, grid.WordOf(m.v)+": "+b.Label(m.words))
	}
	return out + "."
}

// verdictMeanings are the verdicts in words.
var verdictMeanings = []struct {
	v     checks.Verdict
	words string
}{
	{checks.Pass, "shown to be within every limit"},
	{checks.Inconclusive, "neither shown within nor shown beyond a limit, or a reading in doubt"},
	{checks.Fail, "shown to be beyond a limit, or a condition not met"},
	{checks.Missing, "something that must be answered was not"},
	{checks.Void, "the proof itself failed: nothing it showed counts"},
}
