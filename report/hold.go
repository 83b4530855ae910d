package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"handback/checks"
	"handback/records"
)

// Gap is why a hold point stands: a check it needs that does not pass.
type Gap struct {
	Check   string         `json:"check"`
	Title   string         `json:"title"`
	Verdict checks.Verdict `json:"verdict"`
	Why     string         `json:"why"`
	Stop    bool           `json:"stop"` // a stop: no concession lifts it
}

// Gaps lists what a hold point still waits for at a time, in plan order; none
// means its step may be taken as far as this record goes. Only a pass that has
// not gone stale, or a concession of a finding that is no stop, fills a gap; and
// before work begins, again too, a proof of dead made after the plant was live last.
func (j *Job) Gaps(h *checks.Hold, now time.Time) []Gap {
	proofs, energise := j.Plan.BegunBehind(h)
	off := 0
	for _, e := range energise {
		off = max(off, j.undoneAt(e.ID))
	}
	out := []Gap{}
	for _, id := range h.Needs {
		s := j.State(id)
		at := j.staleAt(s, now)
		if j.freshFor(s.Check) == h && j.Retakable(h) {
			at = j.aged(s, now, j.Head().Seq) // as if its step were not taken
		}
		g, open := j.gap(s, at)
		if a := s.Judged(); !open && a.begun() < off && slices.Contains(proofs, s.Check) {
			open = true
			g = Gap{Check: id, Title: s.Check.Title, Verdict: checks.Missing, Why: "passed before the plant was live: prove it dead again"}
		}
		if open {
			out = append(out, g)
		}
	}
	return out
}

// Counting is how long a check counts towards a hold point.
type Counting struct {
	Check string
	Until time.Time
}

// Counting lists the checks of a hold point whose passes go stale, the soonest first.
func (j *Job) Counting(h *checks.Hold, now time.Time) []Counting {
	var out []Counting
	for _, id := range h.Needs {
		s := j.State(id)
		a := s.Judged()
		if a == nil || a.Finding.Until.IsZero() || a.Finding.Verdict != checks.Pass || j.freshFor(s.Check) != h {
			continue
		}
		out = append(out, Counting{id, a.Finding.Until.Add(-j.setBack(a.begun(), j.Head().Seq))})
	}
	slices.SortStableFunc(out, func(a, b Counting) int { return a.Until.Compare(b.Until) })
	return out
}

func (j *Job) gap(s *State, now time.Time) (Gap, bool) {
	g := Gap{Check: s.Check.ID, Title: s.Check.Title, Verdict: s.Verdict()}
	a := s.Judged()
	switch {
	case a == nil && s.Skip != nil:
		g.Why = "skipped: " + s.Skip.Why
	case a == nil && s.Last() != nil:
		g.Why = "begun, not complete" + j.dueWords(s)
	case a == nil && j.OutOfOrder(s.Check) != "":
		g.Why = "not taken: " + j.OutOfOrder(s.Check)
	case a == nil:
		g.Why = "not taken"
	case a.Told.Stop != nil:
		g.Why, g.Stop = a.Told.Stopping(), true
	case a.unjudged():
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d was corrected and not judged again", a.Number)
	case s.Last() != a:
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d is begun, not complete%s", s.Last().Number, j.dueWords(s))
	case s.Skip != nil && s.Skip.Seq > a.JudgedFirst: // begun again and left
		g.Verdict, g.Why = checks.Missing, "skipped: "+s.Skip.Why
	case j.stillLapsed(s, a) != "":
		g.Verdict, g.Why = checks.Missing, j.stillLapsed(s, a)
	case a.Finding.Verdict == checks.Pass && !a.Finding.Until.IsZero() && now.After(a.Finding.Until):
		g.Verdict = checks.Missing
		g.Why = fmt.Sprintf("passed, but counted only until %s%s: take it again", a.Finding.Until.Format("15:04:05"), j.setBackWords(a))
	case a.Finding.Verdict == checks.Pass || s.IsConceded():
		return Gap{}, false
	default:
		g.Why = a.Told.Why()
	}
	return g, true
}

// stillLapsed is why an attempt does not count any longer, unless an engineer
// accepted it since.
func (j *Job) stillLapsed(s *State, a *Attempt) string {
	l := j.lapsed(s, a)
	if l.accept && s.IsConceded() && s.Concession.Seq > l.since {
		return ""
	}
	return l.why
}

// Lapsed is why the newest judged attempt of a check does not count any longer, ""
// when it does or there is none.
func (j *Job) Lapsed(s *State) string {
	if a := s.Judged(); a != nil {
		return j.stillLapsed(s, a)
	}
	return ""
}

// dueWords says when the next line of a begun check falls due, "" when it waits
// for no time.
func (j *Job) dueWords(s *State) string {
	if due, ok := j.Due(s); ok {
		return ": the next line falls due at " + due.Format("2006-01-02 15:04")
	}
	return ""
}

// HoldAbove is the nearest hold point above a check whose step was not taken,
// nil when the way is free.
func (j *Job) HoldAbove(check string) *checks.Hold {
	var above *checks.Hold
	for _, it := range j.Plan.Items() {
		if it.Check != nil && it.Check.ID == check {
			return above
		}
		if it.Hold != nil && above == nil {
			if _, taken := j.Steps[it.Hold.ID]; !taken {
				above = it.Hold
			}
		}
	}
	return above
}

// Next is the first step still open, in plan order: a check without a judged
// attempt that was not skipped, or a hold whose step was not taken. A check whose
// next line is not due yet, and one that the state of the plant does not allow, is
// passed over: the hold below waits for it. ok is false at the end of the plan.
func (j *Job) Next(now time.Time) (item checks.Item, ok bool) {
	for _, it := range j.Plan.Items() {
		if it.Hold != nil {
			if _, taken := j.Steps[it.Hold.ID]; !taken {
				return it, true
			}
			continue
		}
		s := j.State(it.Check.ID)
		if _, waits := j.Waits(s, now); s.isOpen() && !waits && j.OutOfOrder(s.Check) == "" {
			return it, true
		}
	}
	return checks.Item{}, false
}

// isOpen tells whether a check is still to be taken: not judged and not skipped.
func (s *State) isOpen() bool {
	return s.Skip == nil && (s.Last() == nil || !s.Last().Judged)
}

// Due is when the next line of a begun check falls due. ok is false when it waits
// for no time.
func (j *Job) Due(s *State) (due time.Time, ok bool) {
	a := s.Last()
	if a == nil || !s.isOpen() {
		return time.Time{}, false
	}
	return j.Input(s.Check, a.First).Due()
}

// dueSlack is how long before its time a line may be read: who comes on the minute
// should not be sent away for seconds.
const dueSlack = time.Minute

// Waits is when the next line of a begun check falls due. ok is false when it waits
// for no time, or has it within a minute.
func (j *Job) Waits(s *State, now time.Time) (due time.Time, ok bool) {
	due, ok = j.Due(s)
	return due, ok && due.Sub(now) > dueSlack
}

// Waiting is the check that falls due soonest of those whose next line is not due
// yet. ok is false when none waits.
func (j *Job) Waiting(now time.Time) (s *State, due time.Time, ok bool) {
	for _, t := range j.States {
		if at, waits := j.Waits(t, now); waits && (!ok || at.Before(due)) {
			s, due, ok = t, at, true
		}
	}
	return s, due, ok
}

// Overall is the verdict on the whole job.
type Overall struct {
	Ready   bool     // every check passes or is conceded, every hold's step was taken, nothing stands against it
	Code    string   // one of records.Verdicts: what is signed and compared
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
	o := overall(stops, open, holds, conceded, len(against))
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
		o = overall(0, 0, 0, 0, len(against))
		o.Against = against
	}
	return o, nil
}

// against lists what stands against the job beside its checks and hold points: a
// plan nobody may work by, a step taken past what its hold waited for, a judgement
// that comes out otherwise than it was recorded.
func (j *Job) against() []string {
	out := []string{}
	if len(j.States) == 0 {
		out = append(out, "the plan holds no check")
	}
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		s, taken := j.Steps[it.Hold.ID]
		if taken && len(s.Open) > 0 {
			out = append(out, fmt.Sprintf("the step of hold %s was taken while it waited for %s", it.Hold.ID, gapNames(s.Open)))
		}
		if taken && s.Order != "" {
			out = append(out, fmt.Sprintf("the step of hold %s was taken before that of hold %s above it", it.Hold.ID, s.Order))
		}
	}
	for _, p := range j.Plan.Objections() {
		out = append(out, "the plan must not be worked by: "+p.String())
	}
	return append(append(out, j.Differs...), j.RuleFaults()...)
}

// overall is the verdict on a job of so many stops, open checks, hold points whose
// step was not taken, concessions, and other points against it.
func overall(stops, open, holds, conceded, against int) Overall {
	words := func(code, format string, args ...any) Overall {
		if against > 0 {
			format += "; " + Count(against, "point", "points") + " against it"
		}
		return Overall{Code: code, Words: fmt.Sprintf(format, args...)}
	}
	switch {
	case stops > 0:
		return words(records.Stopped, "STOP: %s, %s open", Count(stops, "stop stands", "stops stand"), Count(open, "check", "checks"))
	case open > 0 || holds > 0 || against > 0:
		return words(records.NotReady, "not ready: %s and %s open", Count(open, "check", "checks"), Count(holds, "hold point", "hold points"))
	case conceded > 0:
		return Overall{Ready: true, Code: records.ReadyWithConcessions, Words: fmt.Sprintf("ready, with %s", Count(conceded, "concession", "concessions"))}
	}
	return Overall{Ready: true, Code: records.Ready, Words: "ready: every check passes"}
}

// freshFor is the hold point whose step a finding must be fresh for, nil for none: the
// first that needs it; for a proof of dead it must be one behind which work begins.
func (j *Job) freshFor(c *checks.Check) *checks.Hold {
	for _, it := range j.Plan.Items() {
		if it.Hold == nil || !slices.Contains(it.Hold.Needs, c.ID) {
			continue
		}
		if c.Kind.Proves && j.Plan.StageOf(it.Hold) != checks.BeginWork {
			return nil // a proof of dead must be fresh when work begins, not when it ended
		}
		return it.Hold
	}
	return nil
}

// staleAt is the moment a finding's freshness counts at: that of the step it must be
// fresh for, once it was taken; until then now. Zero for a finding that no hold point
// waits for, which is never stale.
func (j *Job) staleAt(s *State, now time.Time) time.Time {
	h := j.freshFor(s.Check)
	if h == nil {
		return time.Time{}
	}
	if step, taken := j.Steps[h.ID]; taken {
		return j.aged(s, step.Taken, step.Seq)
	}
	return j.aged(s, now, j.Head().Seq)
}

// aged is a moment as a clock would show it that was not set back since a finding was
// read, up to an entry: setting it back makes nothing younger.
func (j *Job) aged(s *State, at time.Time, to int) time.Time {
	if a := s.Judged(); a != nil {
		return at.Add(j.setBack(a.begun(), to))
	}
	return at
}

// setBack is by how much the clock was set back between two entries, all in all.
func (j *Job) setBack(from, to int) time.Duration {
	var sum time.Duration
	for i := max(from, 1); i < min(to, len(j.Entries)); i++ {
		sum += max(0, j.Entries[i-1].At.Sub(j.Entries[i].At))
	}
	return sum
}

// setBackWords say that the clock was set back since an attempt was read, "" when it
// was not.
func (j *Job) setBackWords(a *Attempt) string {
	back := j.setBack(a.begun(), j.Head().Seq)
	if back == 0 {
		return ""
	}
	return fmt.Sprintf(", and the clock was set back %.0f min since", math.Ceil(back.Minutes()))
}

// Count is a number with its noun: 1 check, 2 checks.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// HoldBefore is the nearest hold point above a hold whose step was not taken,
// nil when there is none.
func (j *Job) HoldBefore(hold string) *checks.Hold {
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if it.Hold.ID == hold {
			return nil
		}
		if _, taken := j.Steps[it.Hold.ID]; !taken {
			return it.Hold
		}
	}
	return nil
}
