package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report/fork"
)

// Gap is why a hold point stands: a check it needs that does not pass, a plain step above
// it that was not done, or a rule that its own step would break.
type Gap struct {
	Check   string         `json:"check,omitempty"`
	Step    string         `json:"step,omitempty"` // id of the plain step
	Left    string         `json:"left,omitempty"` // why it was left
	Rule    string         `json:"rule,omitempty"` // name of the rule
	Title   string         `json:"title"`
	Verdict checks.Verdict `json:"verdict"`
	Why     string         `json:"why"`
	Stop    bool           `json:"stop"` // a stop: no concession lifts it
}

// Gaps lists what a hold point still waits for at a time, in plan order; none
// means its step may be taken as far as this record goes. Only a pass that has
// not gone stale, or a concession of a finding that is no stop, fills a gap; and
// before work begins, again too, a proof of dead made, and what secures the plant put
// on, after it was live last. Then come the plain steps above it that were not done, and
// the rules of the network that its step would break, where no step above is still to
// come: by then the plant is another.
func (j *Job) Gaps(h *plan.Hold, now time.Time) []Gap {
	gaps := j.openFor(h, now)
	if slices.ContainsFunc(gaps, func(g Gap) bool { return g.Step != "" && j.LeftNow(g.Step) == nil }) || j.StepBefore(h.ID) != nil {
		return gaps
	}
	return append(gaps, j.ruleGaps(h, now)...)
}

// openFor are the gaps of a hold point but for the rules.
func (j *Job) openFor(h *plan.Hold, now time.Time) []Gap {
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
		if a := s.LastJudged(); !open && a != nil && a.begun() < max(off, j.liveAt(s.Check)) && slices.Contains(proofs, s.Check) {
			open = true
			g = Gap{Check: id, Title: s.Check.Title, Verdict: checks.Missing, Why: "passed before the plant was live: prove it dead again"}
		}
		if a := s.LastJudged(); !open && s.Check.Kind.PutsOn && a.begun() < off {
			open = true
			g = Gap{Check: id, Title: s.Check.Title, Verdict: checks.Missing, Why: "put on before the plant was live: record what is on it now"}
		}
		if !open && j.spoken(s) && !slices.Contains(j.telephoneHolds(id), h.ID) {
			open = true
			g = Gap{Check: id, Title: s.Check.Title, Verdict: s.Verdict(), Why: "accepted by telephone, which this hold point does not take: it waits for the signature"}
		}
		if open {
			out = append(out, g)
		}
	}
	return slices.Concat(out, j.stepGaps(h), j.photoGaps(h), j.planGaps(h), j.stepHeld(h.ID), j.remarkGaps(h), j.forkGaps(h))
}

// Name is the check, the plain step or the rule that a gap is about.
func (g Gap) Name() string {
	if g.Rule != "" {
		return "rule " + g.Rule
	}
	return cmp.Or(g.Check, g.Step)
}

// Counting is how long a check counts towards a hold point.
type Counting struct {
	Check string
	Until time.Time
}

// Counting lists the checks of a hold point whose passes go stale, the soonest first.
func (j *Job) Counting(h *plan.Hold, now time.Time) []Counting {
	var out []Counting
	for _, id := range h.Needs {
		s := j.State(id)
		a := s.LastJudged()
		if a == nil || a.Finding.Until.IsZero() || a.Finding.Verdict != checks.Pass || j.freshFor(s.Check) != h {
			continue
		}
		out = append(out, Counting{id, a.Finding.Until.Add(-j.setBack(a.begun(), j.Head().Seq))})
	}
	slices.SortStableFunc(out, func(a, b Counting) int { return a.Until.Compare(b.Until) })
	return out
}

func (j *Job) gap(s *State, now time.Time) (Gap, bool) {
	if g, open := j.findingGap(s, now); open {
		return g, true
	}
	return j.orderGap(s)
}

// findingGap is the gap that a check leaves by what was found and accepted.
func (j *Job) findingGap(s *State, now time.Time) (Gap, bool) {
	g := Gap{Check: s.Check.ID, Title: s.Check.Title, Verdict: s.Verdict()}
	a := s.LastJudged()
	switch {
	case s.AcceptedSkip() && (a == nil || a.Told.Stop == nil):
		return Gap{}, false
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
	case a.Unjudged():
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d was corrected and not judged again", a.Number)
	case s.MustJudge():
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("the plan was amended (entry %d), and attempt %d was not judged again", s.amended, a.Number)
	case s.Last() != a:
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d is begun, not complete%s", s.Last().Number, j.dueWords(s))
	case s.Skip != nil && s.Skip.Seq > a.JudgedFirst: // begun again and left
		g.Verdict, g.Why = checks.Missing, "skipped: "+s.Skip.Why
	case j.stillLapsed(s, a) != "":
		g.Verdict, g.Why = checks.Missing, j.stillLapsed(s, a)
	case a.Finding.Verdict == checks.Pass && !a.Finding.Until.IsZero() && now.After(a.Finding.Until):
		g.Verdict = checks.Missing
		g.Why = fmt.Sprintf("passed, but was valid only until %s%s: take it again", a.Finding.Until.Format("15:04:05"), j.setBackWords(a))
	case (a.Finding.Verdict == checks.Pass || s.IsConceded()) && j.undecided(s) != "":
		g.Verdict, g.Why = checks.Missing, j.undecided(s)
	case a.Finding.Verdict != checks.Pass && !s.IsConceded():
		g.Why = a.Told.Why()
	case j.PhotosOpen(s) != "": // a concession is of the finding, not of these
		g.Verdict, g.Why = checks.Missing, j.PhotosOpen(s)
	default:
		return Gap{}, false
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
	if a := s.LastJudged(); a != nil {
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
func (j *Job) HoldAbove(check string) *plan.Hold {
	for _, h := range j.Plan.HoldsAbove(check) {
		if _, taken := j.Steps[h.ID]; !taken {
			return h
		}
	}
	return nil
}

// Next is the first step still open, in plan order: a check without a judged
// attempt that was not skipped, or whose repeat is ordered, a hold whose step was not taken, or a plain step that was
// neither done nor left. A check whose
// next line is not due yet, and one that the state of the plant does not allow, is
// passed over: the hold below waits for it. ok is false at the end of the plan.
func (j *Job) Next(now time.Time) (item plan.Item, ok bool) {
	for _, it := range j.Plan.Items() {
		if step := it.Does(); step != nil {
			if _, done := j.Steps[step.ID]; !done && j.LeftNow(step.ID) == nil {
				return it, true
			}
			continue
		}
		s := j.State(it.Check.ID)
		if _, waits := j.Waits(s, now); (s.isOpen() || j.toRepeat(s)) && !waits && j.OutOfOrder(s.Check) == "" {
			return it, true
		}
	}
	return plan.Item{}, false
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

// freshFor is the hold point whose step a finding must be fresh for, nil for none: the
// first that needs it; for a proof of dead it must be one behind which work begins.
func (j *Job) freshFor(c *plan.Check) *plan.Hold {
	for _, it := range j.Plan.Items() {
		if it.Hold == nil || !slices.Contains(it.Hold.Needs, c.ID) {
			continue
		}
		if c.Kind.Proves && j.Plan.StageOf(it.Hold) != plan.BeginWork {
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
	if a := s.LastJudged(); a != nil {
		return at.Add(j.setBack(a.begun(), to))
	}
	return at
}

// setBack is by how much the clock was set back between two entries, all in all.
func (j *Job) setBack(from, to int) time.Duration {
	from, to = max(from, 1), min(to, len(j.back))
	if from >= to {
		return 0
	}
	return j.back[to-1] - j.back[from-1]
}

// setBackBy is by how much the clock was set back up to an entry that is not taken up yet.
func (j *Job) setBackBy(e chain.Entry) time.Duration {
	n := len(j.Entries)
	if n == 0 {
		return 0
	}
	return j.back[n-1] + max(0, j.Entries[n-1].At.Sub(e.At))
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

// Words are why a gap stands, with the stop named.
func (g Gap) Words() string {
	if g.Stop {
		return "STOP: " + g.Why
	}
	return g.Why
}

// forkGaps are why a hold point stands while somebody else went on with the job, and while a
// check that it needs was stopped on a side that was left.
func (j *Job) forkGaps(h *plan.Hold) []Gap {
	var out []Gap
	for _, f := range j.Forks() {
		out = append(out, Gap{Check: "fork", Title: "the job", Verdict: checks.Missing, Why: "somebody else went on with the job: it " + j.ForkWords(f)})
	}
	for _, x := range j.Joins {
		for _, l := range j.stillLost(x) {
			if c := j.Plan.Check(l.Check); l.Stop && c != nil && slices.Contains(h.Needs, l.Check) {
				out = append(out, Gap{Check: l.Check, Title: c.Title, Verdict: checks.Missing, Why: lostWords(x, l), Stop: true})
			}
		}
	}
	return out
}

// stillLost are the findings that a join left and whose checks were not judged here since.
func (j *Job) stillLost(x Joining) []fork.Lost {
	return slices.DeleteFunc(slices.Clone(x.Lost), func(l fork.Lost) bool {
		s := j.State(l.Check)
		return s != nil && s.LastJudged() != nil && s.LastJudged().JudgedFirst > x.Seq
	})
}

func lostWords(x Joining, l fork.Lost) string {
	what := l.Verdict
	if l.Stop {
		what += ", STOP"
	}
	return fmt.Sprintf("the side that entry %d joined found %s: %s (attempt %d there), and what was read there was left: take %s again here", x.Seq, l.Check, what, l.Attempt, l.Check)
}

// telephoneHolds are the hold points, of the plan as it was decided last, that need a check
// and take a word by telephone.
func (j *Job) telephoneHolds(check string) []string {
	var out []string
	for _, it := range j.Decided().Items() {
		if h := it.Hold; h != nil && h.Telephone && slices.Contains(h.Needs, check) {
			out = append(out, h.ID)
		}
	}
	return out
}

// OpenWords tell how many checks and hold points are open, of which there are any; "" where
// there are none.
func OpenWords(checks, holds int) string {
	var open []string
	if checks > 0 {
		open = append(open, Count(checks, "check", "checks"))
	}
	if holds > 0 {
		open = append(open, Count(holds, "hold point", "hold points"))
	}
	if open == nil {
		return ""
	}
	return strings.Join(open, " and ") + " open"
}
