// Package review lists what an engineer looks at who judges a job from a desk: the points.
//
// A point is a flag of the job but for signatures, a note, a time that was recorded late,
// or what became of a remark. It carries what the check it stands on came to: readings,
// values with limit and margin, working. A point is new until the engineer has looked at
// it, decided it, or made its entry; one that is open again is new again.
package review

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
)

// Point is one thing to look at.
type Point struct {
	report.Looked
	Step    string  `json:"step,omitempty"` // id of the step it is about
	Text    string  `json:"text"`
	By      string  `json:"by,omitempty"` // who made the entry
	At      string  `json:"at,omitempty"` // RFC 3339
	New     bool    `json:"new"`
	Attempt int     `json:"attempt,omitempty"` // that the values are of
	Values  []Value `json:"values,omitempty"`
}

// Value is a value of a finding that was held against a limit, in words.
type Value struct {
	Name    string         `json:"name"`
	Value   string         `json:"value"`
	Limit   string         `json:"limit"`
	Margin  string         `json:"margin,omitempty"`
	Verdict checks.Verdict `json:"verdict"`
	Working []string       `json:"working"`
}

// What a point is about that no flag tells.
const (
	WhatNote  = "note"
	WhatLate  = "recorded late"
	WhatCheck = "check" // one that was asked for by its name
)

// Late is how long after a step was done, or a reading taken, it may be recorded without a
// look at its time: what a page of notes takes (our choice).
const Late = 10 * time.Minute

// Points lists the points of a job at a time, those that are new to an engineer first, and of
// these those that are open; to "" new is what no engineer has looked at.
func Points(j *report.Job, now time.Time, by string) []Point {
	b := book{job: j, by: by}
	for _, f := range j.Flags(now) {
		switch f.What {
		case report.FlagSignature:
		case report.FlagOrdered, report.FlagQuestion, report.FlagComment:
		default:
			b.add(Point{Looked: report.Looked{What: f.What, Entry: f.Seq, Check: f.Check, Open: f.Open}, Text: f.Text})
		}
	}
	for _, n := range j.Notes {
		b.add(Point{Looked: report.Looked{What: WhatNote, Entry: n.Seq, Check: n.Check}, Text: n.Text})
	}
	b.late()
	b.remarks()
	first := func(yes bool) int {
		if yes {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(b.points, func(x, y Point) int {
		return cmp.Or(first(x.New)-first(y.New), first(x.Open)-first(y.Open))
	})
	return b.points
}

// Of is a check as a point, whatever it came to.
func Of(j *report.Job, check string) Point {
	s := j.State(check)
	b := book{job: j}
	p := Point{Looked: report.Looked{What: WhatCheck, Check: check}, Text: s.Verdict().String()}
	if a := s.LastJudged(); a != nil {
		p.Entry = a.Seq
		p.Text = fmt.Sprintf("attempt %d: %s", a.Number, a.Finding.Verdict)
	}
	b.add(p)
	return b.points[0]
}

// AttemptOf is the attempt that a point stands on, the newest judged one where it stands on
// none; nil when there is none.
func AttemptOf(j *report.Job, p Point) *report.Attempt {
	s := j.State(p.Check)
	if s == nil {
		return nil
	}
	for _, a := range s.Attempts {
		if a.Seq == p.Entry || a.JudgedFirst == p.Entry ||
			slices.ContainsFunc(a.Lines, func(l report.Entered) bool { return l.Seq == p.Entry }) ||
			slices.ContainsFunc(a.Corrections, func(c report.Correction) bool { return c.Seq == p.Entry }) {
			return a
		}
	}
	return s.LastJudged()
}

type book struct {
	job    *report.Job
	by     string
	points []Point
}

// add completes a point by its entry and its check.
func (b *book) add(p Point) {
	if i := slices.IndexFunc(b.points, func(is Point) bool { return p.Entry > 0 && is.Looked == p.Looked }); i >= 0 {
		b.points[i].Text += "; " + p.Text // several readings of one line that were kept
		return
	}
	p.New = true
	if e, ok := b.entry(p.Entry); ok && !(p.What == report.FlagFork && p.Open) { // where it parts is no entry to look at
		p.By, p.At = e.By, e.At.Format(time.RFC3339)
		if p.Step == "" {
			p.Step = report.StepOf(e)
		}
		p.New = (b.by == "" || e.By != b.by || p.What == report.FlagVerdict || p.What == report.FlagStop) && !b.looked(p)
	}
	if a := AttemptOf(b.job, p); a != nil && a.Judged {
		p.Attempt, p.Values = a.Number, values(a)
	}
	b.points = append(b.points, p)
}

func (b *book) entry(seq int) (chain.Entry, bool) {
	if seq < 1 || seq > len(b.job.Entries) {
		return chain.Entry{}, false
	}
	return b.job.Counted()[seq-1], true
}

// looked tells whether the engineer has looked at a point. Looked at while it was closed, it
// is looked at anew once it is open.
func (b *book) looked(p Point) bool {
	for _, r := range b.job.Reviews {
		if b.by != "" && r.By != b.by {
			continue
		}
		if slices.ContainsFunc(r.Points, func(l report.Looked) bool {
			return l.What == p.What && l.Entry == p.Entry && l.Check == p.Check && (l.Open || !p.Open)
		}) {
			return true
		}
	}
	return false
}

// late adds what was recorded long after it was done or read.
func (b *book) late() {
	add := func(seq int, check, step, what string, was, recorded time.Time) {
		if recorded.Sub(was) > Late {
			b.add(Point{Looked: report.Looked{What: WhatLate, Entry: seq, Check: check}, Step: step,
				Text: fmt.Sprintf("%s %s, recorded %s", what, report.Stamp(was), report.Stamp(recorded))})
		}
	}
	for _, is := range b.job.Done {
		add(is.Seq, "", is.Did.ID(), "the step "+is.Did.ID()+" was done", is.Taken, is.At)
	}
	for _, u := range b.job.Undos {
		add(u.Seq, "", u.Step, "the step "+u.Step+" was undone", u.Done, u.At)
	}
	for _, e := range b.job.Entries {
		c, err := report.Decode[report.Conceded](e)
		if e.Kind != report.EntryConcede || err != nil || c.Telephone == nil {
			continue
		}
		if called, err := time.Parse(time.RFC3339, c.Telephone.Called); err == nil {
			add(e.Seq, e.Check, "", "the acceptance was given by telephone", called, e.At)
		}
	}
	for _, s := range b.job.States {
		for _, a := range s.Attempts {
			for _, g := range b.job.Given(s, a) {
				if e, ok := b.entry(g.Entry); ok && g.Field.Sort == checks.Instant && g.Answer.From == nil {
					add(g.Entry, s.Check.ID, "", fmt.Sprintf("attempt %d: %s is", a.Number, g.Field.Label), g.Answer.Time(), e.At)
				}
			}
		}
	}
}

// remarks adds every remark, on the entry that changed it last: an answer is news to who
// asked.
func (b *book) remarks() {
	what := map[string]string{report.RemarkOrder: report.FlagOrdered, report.RemarkQuestion: report.FlagQuestion, report.RemarkComment: report.FlagComment}
	for _, r := range b.job.Remarks {
		p := Point{Looked: report.Looked{What: what[r.Sort], Entry: r.Seq, Check: r.Check, Open: b.job.Stands(r)}, Step: r.Step}
		p.Text = report.JoinWords(r.Name()+": "+b.job.RemarkWords(r), b.job.BecameWords(r))
		switch {
		case r.Withdrawn != nil:
			p.Entry = r.Withdrawn.Seq
		case r.Answer != nil:
			p.Entry = r.Answer.Seq
		case r.Sort == report.RemarkOrder && b.job.Met(r) > 0:
			p.Entry = b.job.Met(r)
		}
		b.add(p)
	}
}

// values are those of an attempt that were held against a limit.
func values(a *report.Attempt) []Value {
	var out []Value
	for _, d := range a.Finding.Derived {
		if d.Limit != nil {
			working := append([]string{}, d.Working()...)
			out = append(out, Value{d.Name, d.Text(), d.LimitText(), d.MarginText(), d.Verdict, working})
		}
	}
	return out
}
