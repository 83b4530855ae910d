package workbook

import (
	"cmp"
	"slices"

	"handback/report"
	"handback/report/grid"
)

// The log stands on narrow columns of one width, so that tables and the diagram of the
// plant find theirs.
const (
	logColumns = 30
	logWhen    = 7  // the last column of the time
	logWhat    = 19 // the last column of what was done
)

// happening is a line of the log.
type happening struct {
	when, what, who string
	open            bool
}

// happenings are steps, hold points, notes and defects in the order of their times; what
// was not done comes last.
func (b *book) happenings() []happening {
	var out []happening
	d := b.doc
	for _, st := range d.Steps {
		what := st.Action
		if st.Follows != "" {
			what += " (" + st.Follows + ")"
		} else if st.Section != "" {
			what += " " + b.Label("(section %s)", st.Section)
		}
		h := happening{st.Taken, what, report.JoinWords(st.By, st.Did), !st.Done}
		if !st.Done {
			h.who = st.Words
		}
		out = append(out, h)
	}
	for _, x := range d.Holds {
		what := b.Label("hold point %s: %s", x.ID, x.Action)
		if x.Follows != "" {
			what += " (" + x.Follows + ")"
		}
		h := happening{x.Taken, what, report.JoinWords(x.By, x.Did), x.Taken == ""}
		if h.open || len(x.Open) > 0 {
			h.who, h.open = report.HoldWords(x), true
		}
		out = append(out, h)
	}
	for _, n := range d.Notes {
		what := b.Label("note: %s", n.Text)
		if n.Check != "" {
			what = b.Label("note on %s: %s", n.Check, n.Text)
		}
		out = append(out, happening{n.When, what, n.By, false})
	}
	for _, x := range d.Defects {
		out = append(out, happening{x.When, b.Label("defect %d: %s", x.Number, x.Words), report.JoinWords(x.By, x.State), x.Open})
	}
	slices.SortStableFunc(out, func(a, b happening) int {
		if (a.when == "") != (b.when == "") {
			return -cmp.Compare(a.when, b.when)
		}
		return cmp.Compare(a.when, b.when)
	})
	return out
}

// log lays out what was done when and by whom, what went out and came back, and how the
// plant stands.
func (b *book) log(s *grid.Sheet) {
	s.Tight, s.Repeat = true, 1
	for range logColumns {
		s.Widths = append(s.Widths, 2.88)
	}
	s.Add(grid.Across(1, logWhat, b.Label("Log: steps, hold points, notes and defects"), grid.Look{Size: 11, Bold: true}), grid.Across(logWhat+1, logColumns, b.Label("job %s", b.doc.Job), grid.Look{Size: 9, Bold: true, Align: "right"}))
	s.Flow()
	all := b.happenings()
	if len(all) == 0 {
		s.Add(grid.Across(1, logColumns, b.Label("nothing was recorded beside the checks"), faceTight))
	} else {
		s.Add(tight(grid.Across(1, logWhen, "when", grid.FaceColumn)), tight(grid.Across(logWhen+1, logWhat, "what", grid.FaceColumn)), tight(grid.Across(logWhat+1, logColumns, "by", grid.FaceColumn)))
	}
	for _, h := range all {
		l := faceTight
		l.Bold = h.open
		s.Add(grid.Across(1, logWhen, cmp.Or(h.when, b.Label("not done")), l), grid.Across(logWhen+1, logWhat, h.what, l), grid.Across(logWhat+1, logColumns, h.who, l))
	}
	b.registers(s)
	if p := b.doc.Picture; p != nil && p.Columns > 0 && p.Columns <= logColumns/3 {
		s.Block()
		s.Gap(6)
		b.plant(s, logColumns/p.Columns)
	}
	s.Gap(4)
	s.Add(grid.Across(1, logColumns, b.Label("End of the printed handover of job %s", b.doc.Job), grid.Look{Size: 8, Bold: true, Align: "center"}))
}

// registers lists what went out and came back: keys, locks, safety documents, earths.
func (b *book) registers(s *grid.Sheet) {
	face := func(from, to int, text string) grid.Box { return grid.Across(from, to, text, faceTight) }
	moved := func(at, by string) string {
		if at == "" {
			return ""
		}
		return at + ", " + by
	}
	for _, r := range b.doc.Registers {
		s.Block()
		s.Gap(5)
		head := func(from, to int, text string) grid.Box { return tight(grid.Across(from, to, text, grid.FaceColumn)) }
		s.Add(head(1, 3, r.Title()), head(4, 10, "where"), head(11, 20, r.Out), head(21, logColumns, r.In))
		for _, w := range r.Rows {
			s.Add(face(1, 3, w.Number), face(4, 10, w.Where), face(11, 20, moved(w.OutAt, w.OutBy)), face(21, logColumns, report.JoinWords(w.Cleared, moved(w.InAt, w.InBy))))
		}
	}
}
