package fieldsheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
)

// Filled is one value that a field sheet or a file of readings gives.
type Filled struct {
	Place   string // sheet!cell, or line and column: for the person
	Check   string
	Attempt int // 0 is the one that is open, or the next
	Key     string
	Typed   string // as the person sees it
	Means   string // how it is to be read, "" for as typed
	Moment  *moment
}

// moment is a value that a spreadsheet keeps as days, not as text.
type moment struct {
	days float64 // from 1899-12-30; below 1 a time of day
}

// CellError is one value that is not taken: where it stands, the value met and why,
// with what is accepted.
type CellError struct {
	Place string `json:"place"`
	Met   string `json:"met"`
	Cause string `json:"cause"`
}

func (e CellError) Error() string {
	if e.Met == "" {
		return e.Place + ": " + e.Cause
	}
	return fmt.Sprintf("%s: %q: %s", e.Place, e.Met, e.Cause)
}

// Proposal is what readings from outside would add to a job.
type Proposal struct {
	Checks []Proposed // in plan order
	Same   int        // values that the record holds already
}

// Proposed is what they would add to one check.
type Proposed struct {
	Check   *plan.Check
	Attempt int
	Begins  bool   // the first line of its attempt
	Why     string // why a judged check is taken again
	Answers checks.Answers
	Places  map[string]string // where each answer stands, by key
	Notes   []string
}

// ReadingOptions are what is known about readings that come back.
type ReadingOptions struct {
	Now    time.Time // when they are taken back
	After  time.Time // when the earliest of them can have been taken
	Repeat string    // why judged checks are taken again, "" when they are not
}

// Propose holds values against a job and gives what they would add, or every reason
// why not. Nothing is guessed:
//
//   - a value that the record holds already adds nothing;
//   - one that differs from what was recorded meanwhile is an error: a slip is put
//     right with a correction, a new reading is a repeat;
//   - an attempt that was judged meanwhile takes no more values;
//   - a time of day belongs to the one day between After and Now it can be of; where
//     that is none or more than one it is an error.
func Propose(job *report.Job, filled []Filled, o ReadingOptions) (*Proposal, []CellError) {
	t := &taker{job: job, o: o}
	by := map[string][]Filled{}
	for _, f := range filled {
		if job.State(f.Check) == nil {
			t.refuse(f, "no check %q in the plan of job %s", f.Check, job.ID)
			continue
		}
		by[f.Check] = append(by[f.Check], f)
	}
	for _, s := range job.States {
		if len(by[s.Check.ID]) > 0 {
			t.check(s, by[s.Check.ID])
		}
	}
	if len(t.errs) > 0 {
		return nil, t.errs
	}
	return &t.out, nil
}

// taker takes values one check after another.
type taker struct {
	job  *report.Job
	o    ReadingOptions
	out  Proposal
	errs []CellError
}

func (t *taker) refuse(f Filled, format string, args ...any) {
	t.errs = append(t.errs, CellError{f.Place, f.Typed, fmt.Sprintf(format, args...)})
}

// check takes the values of one check.
func (t *taker) check(s *report.State, filled []Filled) {
	n, ok := t.attempt(s, filled)
	if !ok {
		return
	}
	p := Proposed{Check: s.Check, Attempt: n, Begins: n > len(s.Attempts), Why: t.o.Repeat, Answers: checks.Answers{}, Places: map[string]string{}}
	var date *Filled
	for i, f := range filled {
		if f.Key == inputDate {
			date = &filled[i]
		}
	}
	given := map[string]string{}
	for _, f := range filled {
		if first, twice := given[f.Key]; twice {
			t.refuse(f, "%s of check %s is given at %s already", f.Key, f.Check, first)
			continue
		}
		given[f.Key] = f.Place
		switch f.Key {
		case inputDate:
			if _, err := t.day(f); err != nil {
				t.refuse(f, "%v", err)
			}
		case inputRepeat:
			p.Why = t.words(f)
		case inputNote:
			t.note(&p, f)
		default:
			t.answer(s, &p, f, date)
		}
	}
	if p.Begins && n > 1 && len(p.Answers) > 0 && p.Why == "" {
		t.errs = append(t.errs, CellError{Place: filled[0].Place, Cause: fmt.Sprintf("check %s was judged %s: why it is taken again is wanted, on the form or with --repeat WHY", s.Check.ID, s.Last().Finding.Verdict)})
	}
	if !p.Begins || n == 1 {
		p.Why = ""
	}
	if len(p.Answers) > 0 || len(p.Notes) > 0 {
		t.out.Checks = append(t.out.Checks, p)
	}
}

// attempt tells which attempt the values belong to.
func (t *taker) attempt(s *report.State, filled []Filled) (int, bool) {
	last, n := s.Last(), filled[0].Attempt
	for _, f := range filled {
		if f.Attempt != n {
			t.refuse(f, "attempts %d and %d of check %s: a sheet holds one", n, f.Attempt, f.Check)
			return 0, false
		}
	}
	next := 1
	if last != nil {
		next = last.Number
		if last.Judged {
			next++
		}
	}
	switch {
	case n == 0 && last != nil && last.Judged && t.o.Repeat == "":
		n = last.Number // only what it holds already can be taken
	case n == 0:
		n = next
	case n > next:
		t.refuse(filled[0], "attempt %d of check %s does not follow: the job has %d", n, s.Check.ID, len(s.Attempts))
		return 0, false
	}
	return n, true
}

// answer takes one value of a form.
func (t *taker) answer(s *report.State, p *Proposed, f Filled, date *Filled) {
	in := t.job.Input(s.Check, t.o.Now)
	field, ok := checks.FieldNamed(in.Form(), f.Key)
	if !ok {
		t.refuse(f, "check %s asks no %q: it asks %s", f.Check, f.Key, strings.Join(checks.KeysOf(in.Form()), ", "))
		return
	}
	a, err := t.parse(field, f, date)
	if err != nil {
		t.refuse(f, "%s", strings.TrimPrefix(err.Error(), f.Key+": "))
		return
	}
	if p.Begins {
		p.Answers[f.Key], p.Places[f.Key] = a, f.Place
		return
	}
	was := s.Attempts[p.Attempt-1]
	old, has := was.Answers[f.Key]
	switch {
	case has && report.SameAnswer(old, a, field.Sort == checks.Instant && date == nil && f.Moment == nil):
		t.out.Same++
	case has && was.Judged:
		t.refuse(f, "%s of check %s, attempt %d, is recorded as %q and judged: put a slip right with: %s; a new reading is a repeat", field.Label, f.Check, p.Attempt, old.Typed, t.job.CommandLine("correct", t.job.ID, f.Check))
	case has:
		t.refuse(f, "%s of check %s is recorded as %q by now: look which is right, and type it with: %s", field.Label, f.Check, old.Typed, t.job.CommandLine("walk", t.job.ID))
	case was.Judged:
		t.refuse(f, "check %s, attempt %d, was judged without %s: what is missing is added with: %s", f.Check, p.Attempt, field.Label, t.job.CommandLine("correct", t.job.ID, f.Check))
	default:
		p.Answers[f.Key], p.Places[f.Key] = a, f.Place
	}
}

func (t *taker) parse(field checks.Field, f Filled, date *Filled) (checks.Answer, error) {
	if _, absent := checks.CutAbsent(f.Typed); absent == f.Typed || field.Sort != checks.Instant {
		if f.Moment != nil {
			return checks.Answer{}, fmt.Errorf("the spreadsheet made a date or a time of it; %s is wanted: format the cell as text and type it again", field.Accepts())
		}
		a, err := checks.ParseAnswer(field, t.job.Plan, cmp.Or(f.Means, f.Typed), t.o.Now)
		a.Typed = f.Typed
		return a, err
	}
	at, err := t.instant(f, date)
	if err != nil {
		return checks.Answer{}, err
	}
	a, err := checks.ParseAnswer(field, t.job.Plan, at.Format(time.RFC3339), t.o.Now)
	a.Typed = f.Typed
	return a, err
}

// words takes free text.
func (t *taker) words(f Filled) string {
	a, err := checks.ParseAnswer(checks.Field{Key: "words", Sort: checks.Words}, t.job.Plan, f.Typed, t.o.Now)
	if err != nil {
		t.refuse(f, "%s", strings.TrimPrefix(err.Error(), "words: "))
	}
	return a.Word
}

// note takes words about a check, once.
func (t *taker) note(p *Proposed, f Filled) {
	text := t.words(f)
	if slices.ContainsFunc(t.job.Notes, func(n report.Note) bool { return n.Check == f.Check && n.Text == text }) {
		t.out.Same++
		return
	}
	p.Notes = append(p.Notes, text)
}
