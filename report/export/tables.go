package export

import (
	"cmp"
	"iter"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
)

// table is one list of rows.
type table struct {
	name string
	row  any      // a row of its type, for its columns
	key  []string // the columns that tell a row from every other
	refs []ref
	rows func(*report.Job, time.Time) iter.Seq[any]
}

// ref says that columns of a table are the key of a row of another. Columns that may be
// without a value refer to nothing here: readers disagree about a key that is there in
// part.
type ref struct {
	columns []string
	table   string
	to      []string
}

var (
	checkKey = []string{"job", "check"}
	entryKey = []string{"job", "seq"}
	ofCheck  = ref{checkKey, "checks", checkKey}
)

func ofEntry(column string) ref { return ref{[]string{"job", column}, "entries", entryKey} }

// tables are all of them, in the order they are written.
var tables = []table{
	{"checks", CheckRow{}, checkKey, nil, checkRows},
	{"findings", FindingRow{}, []string{"job", "check", "attempt"}, []ref{ofCheck, ofEntry("entry")}, findingRows},
	{"values", ValueRow{}, []string{"job", "check", "attempt", "key"}, []ref{{[]string{"job", "check", "attempt"}, "findings", []string{"job", "check", "attempt"}}}, valueRows},
	{"readings", ReadingRow{}, []string{"job", "check", "attempt", "field"}, []ref{ofCheck, ofEntry("entry")}, readingRows},
	{"steps", StepRow{}, []string{"job", "step"}, nil, stepRows},
	{"acceptances", AcceptanceRow{}, []string{"job", "entry"}, []ref{ofEntry("entry")}, acceptanceRows},
	{"remarks", RemarkRow{}, []string{"job", "remark"}, []ref{ofEntry("entry")}, remarkRows},
	{"entries", EntryRow{}, entryKey, nil, entryRows},
}

// states are the checks of a job, those that amendments took out last.
func states(j *report.Job) []*report.State { return append(slices.Clone(j.States), j.TakenOut...) }

func checkRows(j *report.Job, at time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for i, s := range states(j) {
			r := CheckRow{Job: j.ID, Check: s.Check.ID, Number: i + 1, Kind: s.Check.Kind.Name, Title: s.Check.Title, At: s.Check.At,
				Verdict: s.Verdict(), Stands: j.StandsAt(s, at), Conceded: s.IsConceded()}
			if s.Skip != nil {
				r.Skipped = s.Skip.Why
			}
			if !yield(r) {
				return
			}
		}
	}
}

func findingRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for s, a := range judged(j) {
			f := a.Finding
			r := FindingRow{Job: j.ID, Check: s.Check.ID, Attempt: a.Number, By: a.By, Begun: a.First, Judged: a.At, Repeats: a.Why,
				Verdict: f.Verdict, Stop: f.Stop.Code, Reasons: []string{}, Why: report.OneLine(a.Told.Why()), Rule: f.Rule, Until: moment(f.Until), Entry: a.Seq}
			for _, x := range f.Reasons {
				r.Reasons = append(r.Reasons, x.Code)
			}
			if !yield(r) {
				return
			}
		}
	}
}

// judged are the attempts of a job that were judged.
func judged(j *report.Job) iter.Seq2[*report.State, *report.Attempt] {
	return func(yield func(*report.State, *report.Attempt) bool) {
		for _, s := range states(j) {
			for _, a := range s.Attempts {
				if a.Judged && !yield(s, a) {
					return
				}
			}
		}
	}
}

func valueRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for s, a := range judged(j) {
			for _, d := range a.Finding.Derived {
				unit := cmp.Or(d.Unit, "1")
				r := ValueRow{Job: j.ID, Check: s.Check.ID, Attempt: a.Number, Key: d.Key, Name: d.Name, Bound: d.Bound, Value: known(d.Value), Unit: unit, UCUM: quantity.UCUM(unit),
					Uncertainty: known(d.U), Rule: d.Rule, ChanceOut: known(d.ChanceOut)}
				if l := d.Limit; l != nil {
					r.Low, r.High, r.Source, r.Verdict = known(l.Low), known(l.High), l.Source, d.Verdict
				}
				if b := d.Since; b != nil {
					r.Was, r.WasUnit, r.WasUCUM, r.WasSource, r.WasDate = known(b.Was), b.Unit, quantity.UCUM(b.Unit), b.Source, b.Date.Format(time.DateOnly)
				}
				if !yield(r) {
					return
				}
			}
		}
	}
}

func readingRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for _, s := range states(j) {
			for _, a := range s.Attempts {
				for _, g := range j.Given(s, a) {
					if !yield(readingRow(j, s, a, g)) {
						return
					}
				}
			}
		}
	}
}

func readingRow(j *report.Job, s *report.State, a *report.Attempt, g report.Given) ReadingRow {
	f, ans := g.Field, g.Answer
	r := ReadingRow{Job: j.ID, Check: s.Check.ID, Attempt: a.Number, Field: f.Key, Label: f.Label, Sort: f.Sort.String(), Typed: ans.Typed,
		Bound: ans.Bound, NotThere: ans.NotThere, Kept: ans.Kept, Entry: g.Entry}
	if used, ok := a.Answers[f.Meter]; ok && f.Meter != "" {
		r.Instrument = used.Word
	}
	if ans.From != nil {
		r.FromEntry = seq(ans.From.Entry)
	}
	switch {
	case ans.NotThere != "":
	case f.Sort == checks.Measured:
		unit := f.Unit // of a number typed without one
		if q, err := quantity.ParseQuantity(ans.Typed, quantity.QuantityOf(f.Unit), f.Unit); err == nil {
			unit = cmp.Or(q.Unit, unit)
		}
		r.Number, r.NumberUnit, r.NumberUCUM = known(quantity.FromBase(ans.Value, unit)), unit, quantity.UCUM(unit)
		base := quantity.BaseUnit(quantity.QuantityOf(f.Unit))
		r.Value, r.Unit, r.UCUM = known(ans.Value), base, quantity.UCUM(base)
	case f.Sort == checks.Count:
		r.Number, r.NumberUnit, r.NumberUCUM = known(ans.Value), "1", quantity.UCUM("1")
		r.Value, r.Unit, r.UCUM = r.Number, r.NumberUnit, r.NumberUCUM
	case f.Sort == checks.Instant:
		r.Moment = moment(ans.Time())
	default:
		r.Word = ans.Word
	}
	return r
}

// What a step stands as.
const (
	stepDone = "done"
	stepLeft = "left"
	stepOpen = "open"
)

func stepRows(j *report.Job, at time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for i, it := range j.Plan.Items() {
			if s := it.Does(); s != nil && !yield(stepRow(j, s, it.Hold, i+1, at)) {
				return
			}
		}
	}
}

func stepRow(j *report.Job, s *plan.Step, h *plan.Hold, number int, at time.Time) StepRow {
	r := StepRow{Job: j.ID, Step: s.ID, Number: number, Hold: h != nil, Act: string(s.Act), Action: s.Action, Device: s.Device, State: stepOpen, Waits: []string{}}
	var gaps []report.Gap
	if is, done := j.Steps[s.ID]; done {
		r.State, r.Taken, r.By, r.Instructed, r.Confirmed, r.Entry, gaps = stepDone, moment(is.Taken), is.By, is.Did.Instructed, is.Did.Confirmed, seq(is.Seq), is.Open
	} else if l := j.LeftNow(s.ID); l != nil {
		r.State, r.By, r.Left, r.Entry = stepLeft, l.By, l.Why, seq(l.Seq)
	}
	if h != nil && r.State == stepOpen {
		gaps = j.Gaps(h, at)
	}
	for _, g := range gaps {
		r.Waits = append(r.Waits, g.Name())
	}
	return r
}

func entryRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for _, e := range j.Entries {
			if !yield(EntryRow{e.Job, e.Seq, e.At, e.By, e.Kind, e.Check, e.Data, e.Prev, e.Hash}) {
				return
			}
		}
	}
}

// known is x, nil for what is no number.
func known(x float64) *float64 {
	if !quantity.Finite(x) {
		return nil
	}
	return &x
}

func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// seq is the number of an entry, nil for none.
func seq(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
}
