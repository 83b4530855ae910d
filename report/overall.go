package report

import (
	"fmt"
	"time"

	"handback/checks/calc"
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
	out = append(append(append(out, j.stepsAgainst()...), j.defectsAgainst()...), j.amendmentsAgainst()...)
	for _, p := range j.Plan.Objections() {
		out = append(out, "the plan must not be worked by: "+p.String())
	}
	return append(append(out, j.Differs...), j.RuleFaults()...)
}

// StandsArea names the cells that say what each check stands as.
const StandsArea = "stands"

// OverallBy chooses the verdict on a job over what its checks stand as; holds is how many
// hold points wait for their step, against how many other points count against it. word
// gives what is shown for one of chain.Verdicts.
func OverallBy(holds, against int, word func(code string) string) calc.Choice {
	shown := func(code string) calc.Choice { return calc.Word(word(code)) }
	some := func(as string) calc.Test { return calc.Count{Area: StandsArea, Word: as, Exactly: -1} }
	closed := calc.Choice(calc.If{Test: some(StandsAccepted), Then: shown(chain.ReadyWithConcessions), Else: shown(chain.Ready)})
	if holds > 0 || against > 0 {
		closed = shown(chain.NotReady)
	}
	return calc.If{Test: some(StandsStop), Then: shown(chain.Stopped), Else: calc.If{Test: some(StandsOpen), Then: shown(chain.NotReady), Else: closed}}
}

// OverallOf is the verdict on a job of so many stops, open checks with those stops among
// them, hold points whose step was not taken, concessions, and other points against it.
func OverallOf(stops, open, holds, conceded, against int) Overall {
	stands := map[string]int{StandsStop: stops, StandsOpen: open - stops, StandsAccepted: conceded}
	code := calc.Decide(OverallBy(holds, against, func(code string) string { return code }),
		func(string) calc.Content { return calc.Content{Counts: stands} })
	o := Overall{Code: code, Ready: code == chain.Ready || code == chain.ReadyWithConcessions}
	switch code {
	case chain.Stopped:
		o.Words = fmt.Sprintf("STOP: %s, %s open", Count(stops, "stop stands", "stops stand"), Count(open, "check", "checks"))
	case chain.NotReady:
		o.Words = fmt.Sprintf("not ready: %s and %s open", Count(open, "check", "checks"), Count(holds, "hold point", "hold points"))
	case chain.ReadyWithConcessions:
		o.Words = fmt.Sprintf("ready, with %s", Count(conceded, "concession", "concessions"))
	case chain.Ready:
		o.Words = "ready: every check passes"
	}
	if against > 0 {
		o.Words += "; " + Count(against, "point", "points") + " against it"
	}
	return o
}
