package report

import (
	"time"

	"handback/checks"
)

// Use is one answer that an instrument gave, or its part in a check that reads
// nothing from it, such as a proving source.
type Use struct {
	Job     string    `json:"job"`
	Meter   string    `json:"instrument"`
	Serial  string    `json:"serial"`
	Check   string    `json:"check"`
	Attempt int       `json:"attempt"`
	Entry   int       `json:"entry"`
	At      time.Time `json:"at"`
	Label   string    `json:"label"`
	Typed   string    `json:"typed"`
	InDate  bool      `json:"in_date"` // by the plan's due date, when it was read
}

// Uses lists every answer each instrument gave, in plan order: what must be
// looked at again when an instrument is found out of order later.
func (j *Job) Uses() []Use {
	out := []Use{}
	for _, s := range j.all() {
		for _, a := range s.Attempts {
			out = append(out, j.usesIn(s, a)...)
		}
	}
	return out
}

func (j *Job) usesIn(s *State, a *Attempt) []Use {
	var out []Use
	read := map[string]bool{} // instrument fields that gave a reading
	form := j.attemptInput(s, a).Form()
	for _, f := range form {
		if ans, ok := a.Answers[f.Key]; ok && f.Meter != "" && ans.NotThere == "" {
			read[f.Meter] = true
			out = j.use(out, s, a, f, a.Answers[f.Meter].Word, ans.Typed)
		}
	}
	for _, f := range form {
		if ans, ok := a.Answers[f.Key]; ok && f.Sort == checks.MeterUsed && !read[f.Key] {
			out = j.use(out, s, a, f, ans.Word, "used")
		}
	}
	return out
}

func (j *Job) use(out []Use, s *State, a *Attempt, f checks.Field, id, typed string) []Use {
	m := j.meter(id)
	if m == nil {
		return out
	}
	return append(out, Use{Job: j.ID, Meter: m.ID, Serial: m.Serial, Check: s.Check.ID, Attempt: a.Number, Entry: entryOf(a, f.Key),
		At: a.First, Label: f.Label, Typed: typed, InDate: m.InDate(a.First)})
}

// attemptInput is what an attempt's form is made from: what was known when it was
// judged, or what is known now while it is not.
func (j *Job) attemptInput(s *State, a *Attempt) checks.Input {
	in := j.input(s, a)
	if a.before == nil {
		in.Before = j.Before(s.Check.ID)
	}
	return in
}
