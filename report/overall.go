package report

import (
	"fmt"
	"strings"
	"time"

	"handback/records/chain"
)

// Overall is the verdict on the whole job.
type Overall struct {
	Ready   bool     // every check passes or is conceded, every step was done, nothing stands against it
	Code    string   // one of chain.Verdicts: what is signed and compared
	Words   string   // in one line, for people
	Against []string // what else stands against it, beside checks and hold points
}

// Overall says whether the plant is ready for service, as far as this record goes.
func (j *Job) Overall(now time.Time) Overall {
	open, stops, conceded := 0, 0, 0
	for _, s := range j.States {
		g, gap := j.gap(s, j.staleAt(s, now))
		switch {
		case g.Stop:
			stops++
			open++
		case gap:
			open++
		case s.IsConceded():
			conceded++
		}
	}
	holds := 0
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if _, ok := j.Steps[it.Hold.ID]; !ok {
			holds++
		}
	}
	against := j.against()
	o := OverallOf(stops, open, holds, conceded, len(against))
	o.Against = against
	return o
}

// Standing is Overall with what the job's signatures are worth: nothing is ready
// above a signature that is not shown to be good.
func (j *Job) Standing(now time.Time) (Overall, error) {
	o := j.Overall(now)
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return o, err
	}
	for _, c := range checked {
		if c.Doubt() != "" {
			o.Against = append(o.Against, fmt.Sprintf("entry %d: the signature is not shown to be good: %s", c.Seq, c.Doubt()))
		}
	}
	if o.Ready && len(o.Against) > 0 {
		against := o.Against
		o = OverallOf(0, 0, 0, 0, len(against))
		o.Against = against
	}
	return o, nil
}

// against lists what stands against the job beside its checks and hold points: a
// plan nobody may work by, a step not done, or done past what its hold waited for or
// against a rule, a judgement that comes out otherwise than it was recorded.
func (j *Job) against() []string {
	out := []string{}
	if len(j.States) == 0 {
		out = append(out, "the plan holds no check")
	}
	out = append(out, j.stepsAgainst()...)
	for _, p := range j.Plan.Objections() {
		out = append(out, "the plan must not be worked by: "+p.String())
	}
	return append(append(out, j.Differs...), j.RuleFaults()...)
}

// stepsAgainst lists what stands against a job of its steps: those that were not done,
// those done otherwise than the plan and the rules have it, and what is left over when all
// were done.
func (j *Job) stepsAgainst() []string {
	var out, open []string
	for _, s := range j.OpenSteps() {
		open = append(open, s.ID)
	}
	if n := len(open); n > 0 {
		text := Count(n, "step is", "steps are") + " not done: " + strings.Join(open[:min(n, 3)], ", ")
		if n > 3 {
			text += fmt.Sprintf(" and %d more", n-3)
		}
		out = append(out, text)
	}
	holds := 0
	for _, it := range j.Plan.Items() {
		s := it.Does()
		if s == nil {
			continue
		}
		is, done := j.Steps[s.ID]
		if !done {
			holds++
			continue
		}
		out = append(append(append(out, is.past(s.ID)...), is.ahead(s.ID)...), is.single(s.ID)...)
	}
	if holds == 0 && j.plant != nil {
		for _, l := range j.Plan.Grid().Left(j.Plan.Ends(), j.plant.state, j.plant.memory) {
			out = append(out, "left over at the end: "+j.leftoverWords(l))
		}
	}
	return out
}

// OverallOf is the verdict on a job of so many stops, open checks, hold points whose
// step was not taken, concessions, and other points against it.
func OverallOf(stops, open, holds, conceded, against int) Overall {
	words := func(code, format string, args ...any) Overall {
		if against > 0 {
			format += "; " + Count(against, "point", "points") + " against it"
		}
		return Overall{Code: code, Words: fmt.Sprintf(format, args...)}
	}
	switch {
	case stops > 0:
		return words(chain.Stopped, "STOP: %s, %s open", Count(stops, "stop stands", "stops stand"), Count(open, "check", "checks"))
	case open > 0 || holds > 0 || against > 0:
		return words(chain.NotReady, "not ready: %s and %s open", Count(open, "check", "checks"), Count(holds, "hold point", "hold points"))
	case conceded > 0:
		return Overall{Ready: true, Code: chain.ReadyWithConcessions, Words: fmt.Sprintf("ready, with %s", Count(conceded, "concession", "concessions"))}
	}
	return Overall{Ready: true, Code: chain.Ready, Words: "ready: every check passes"}
}
