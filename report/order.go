package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
)

// BadMeter is an instrument that was found bad after it was used.
type BadMeter struct {
	Seq    int
	At     time.Time
	By     string
	Serial string
	Since  time.Time // its readings from then on do not count
	Why    string
}

// OutOfOrder says why a reading of the check would not fit the state of the plant as
// the recorded steps and findings give it, "" when it fits:
//
//   - no proof of dead and no dead work on plant that was energised since;
//   - no dead work before every proof of dead above it has passed, after the plant
//     was last made dead again, and the hold behind which work begins was done since;
//   - nothing is accounted for before the work it belongs to is done;
//   - no live check on plant that is earthed: one above the dead work, taken again;
//   - no proof of dead where the network has the node live, and no phasing where it has a
//     side dead or the device closed.
//
// A hold point above the check whose step was not taken is HoldAbove's.
func (j *Job) OutOfOrder(c *plan.Check) string {
	why, _ := j.outOfOrder(c)
	return why
}

// WayBack is the command line that records the act which OutOfOrder asks for, "" where
// no single one does.
func (j *Job) WayBack(c *plan.Check) string {
	if _, way := j.outOfOrder(c); len(way) > 0 {
		return j.CommandLine(way...)
	}
	return ""
}

// outOfOrder is OutOfOrder with the words of a command that records what it asks for.
func (j *Job) outOfOrder(c *plan.Check) (why string, way []string) {
	if why := j.contradicted(c); why != "" {
		return why, nil
	}
	proofs, work, begin, energise, ok := j.Plan.DeadSection(c)
	if !ok {
		return j.onEarthed(c), nil
	}
	off := 0 // the entry that made the plant dead again
	for _, h := range energise {
		if s, taken := j.Steps[h.ID]; taken {
			return fmt.Sprintf("the plant was energised at %s (hold %s): make it dead again first, and record that step as undone", s.Taken.Format("15:04:05"), h.ID),
				[]string{"undone", j.ID, h.ID, "--why", "WHY"}
		}
		off = max(off, j.undoneAt(h.ID))
	}
	if c.Kind.Proves {
		return "", nil
	}
	if why := j.notDead(c, proofs, off); why != "" {
		return why, nil
	}
	for _, h := range begin {
		if s, taken := j.Steps[h.ID]; taken && s.Seq < off {
			return fmt.Sprintf("the plant was live since the step of hold %s (%s) was done: do it again, and record it", h.ID, h.Action), []string{"done", j.ID, h.ID}
		}
	}
	if c.Kind.Counts {
		return j.workOpen(c, work), nil
	}
	return "", nil
}

// onEarthed says that a live check above the dead work cannot be taken while the plant
// is earthed, "" when it can.
func (j *Job) onEarthed(c *plan.Check) string {
	begin, energise := j.Plan.EarthedFrom(c)
	for _, h := range energise {
		if _, taken := j.Steps[h.ID]; taken {
			return ""
		}
	}
	for _, h := range begin {
		if s, taken := j.Steps[h.ID]; taken {
			return fmt.Sprintf("the plant is earthed since %s (hold %s): nothing live is read on it; a check of other plant, which stays live, says so in the plan with live_from", s.Taken.Format("15:04:05"), h.ID)
		}
	}
	return ""
}

// notDead says which proof of dead above a check is wanting, "" when none is.
func (j *Job) notDead(c *plan.Check, proofs []*plan.Check, off int) string {
	if len(proofs) == 0 && j.Plan.DeadBy == "" && c.DeadBy == "" {
		return "no check above it proves the plant dead"
	}
	for _, p := range proofs {
		s := j.State(p.ID)
		a := s.LastJudged()
		switch {
		case a == nil || a != s.Last():
			return fmt.Sprintf("%s (%s) has not passed: the plant counts as live", p.ID, p.Title)
		case a.Told.Stop != nil:
			return fmt.Sprintf("%s: STOP: %s", p.ID, a.Told.Stopping())
		case a.Finding.Verdict != checks.Pass || a.Order != "":
			return fmt.Sprintf("%s (%s) came to %s: the plant counts as live", p.ID, p.Title, a.Finding.Verdict)
		case j.Ordered(p.ID) != nil:
			return fmt.Sprintf("%s is to be taken again (%s): the plant counts as live", p.ID, j.Ordered(p.ID).Name())
		case a.begun() < max(off, j.liveAt(p)):
			return fmt.Sprintf("%s (%s) was passed before the plant was energised: prove it dead again", p.ID, p.Title)
		}
		if why := j.lapsed(s, a).why; why != "" {
			return fmt.Sprintf("%s: %s: the plant counts as live", p.ID, why)
		}
	}
	return ""
}

// workOpen says which work is not done, so that nothing can be accounted for yet.
func (j *Job) workOpen(c *plan.Check, work []*plan.Check) string {
	for _, d := range work {
		if s := j.State(d.ID); d != c && !d.Kind.Counts && (s.Last() == nil || !s.Last().Judged) {
			return fmt.Sprintf("%s (%s) is not done: everything is removed and accounted for when the work is done", d.ID, d.Title)
		}
	}
	return ""
}

// undoneAt is the newest entry that undid a step, 0 when none did.
func (j *Job) undoneAt(step string) int {
	for _, u := range slices.Backward(j.Undos) {
		if u.Step == step {
			return u.Seq
		}
	}
	return 0
}

// Retakable tells whether a step that was taken may be recorded again: the plant
// was made live and dead again since, so that work has to begin anew.
func (j *Job) Retakable(h *plan.Hold) bool {
	s, taken := j.Steps[h.ID]
	_, energise := j.Plan.BegunBehind(h)
	again := false
	for _, e := range energise {
		if _, live := j.Steps[e.ID]; live {
			return false
		}
		again = again || j.undoneAt(e.ID) > s.Seq
	}
	return taken && again
}

// lapse is why a judged attempt does not count any longer.
type lapse struct {
	why    string
	accept bool // an engineer may accept it all the same
	since  int  // the entry that brought it
}

// lapsed says why a judged attempt does not count any longer; why is "" while it does.
func (j *Job) lapsed(s *State, a *Attempt) lapse {
	if a.Order != "" {
		return lapse{why: fmt.Sprintf("attempt %d was read out of order: %s", a.Number, a.Order)}
	}
	if what, seq := j.changedSince(s.Check, a); what != "" {
		return lapse{why: fmt.Sprintf("attempt %d does not count any longer: %s; take it again", a.Number, what), since: seq}
	}
	if b, m := j.badMeter(s, a); m != "" {
		return lapse{fmt.Sprintf("attempt %d was taken with %s (serial %s), found bad: %s; take it again with another instrument", a.Number, m, b.Serial, b.Why), true, b.Seq}
	}
	if b, id := j.badBehind(a); id != "" {
		return lapse{fmt.Sprintf("attempt %d rests on a reading of %s, taken with an instrument (serial %s) found bad: %s; take %s again", a.Number, id, b.Serial, b.Why, id), true, b.Seq}
	}
	if a.PastHold != "" {
		return lapse{fmt.Sprintf("attempt %d was read behind a hold point whose step was not recorded: %s; take it again, or an engineer accepts it", a.Number, a.PastHold), true, a.begun()}
	}
	return lapse{}
}

// changedSince names what changed the plant after an attempt was read, with its
// entry: a step above it was undone, work that it rests on was taken again and left
// the plant otherwise, or, for what counts things back, more work was done.
func (j *Job) changedSince(c *plan.Check, a *Attempt) (what string, seq int) {
	first := a.begun()
	if s := j.State(c.ID); s.crossedAt > first {
		return fmt.Sprintf("an amendment of the plan moved it to the other side of hold %s, whose step was taken", s.crossed), s.crossedAt
	}
	for _, it := range j.Plan.Items() {
		if it.Check == c {
			break
		}
		if s := it.Does(); s != nil && j.undoneAt(s.ID) > first && !c.Kind.Dead && !c.Kind.Proves {
			return fmt.Sprintf("the step %s was undone", s.ID), j.undoneAt(s.ID)
		}
	}
	if why, seq := j.strayed(j.State(c.ID), a); why != "" {
		return why, seq
	}
	for _, id := range j.Plan.RestsOn(c) {
		s := j.State(id)
		if s == nil {
			continue
		}
		if is := s.LastJudged(); is != nil && is.JudgedFirst > a.JudgedFirst && !sameAnswers(a.known.Of(id).Answers, is.Answers.There()) {
			return fmt.Sprintf("%s was taken again (attempt %d)", id, is.Number), is.JudgedFirst
		}
	}
	if c.Kind.Counts {
		return j.workSince(c, first)
	}
	return "", 0
}

// workSince names the work after a check that counts things back, with its entry: the
// work was begun again, or more of it was done.
func (j *Job) workSince(c *plan.Check, first int) (what string, seq int) {
	_, work, begin, _, _ := j.Plan.DeadSection(c)
	for _, h := range begin {
		if s, taken := j.Steps[h.ID]; taken && s.Seq > first {
			return fmt.Sprintf("the step of hold %s was done after it", h.ID), s.Seq
		}
	}
	for _, d := range work {
		if is := j.State(d.ID).Last(); !d.Kind.Counts && is != nil && is.begun() > first {
			return fmt.Sprintf("%s was taken again (attempt %d)", d.ID, is.Number), is.begun()
		}
	}
	return "", 0
}

// sameAnswers tells whether two sets of answers mean the same.
func sameAnswers(a, b checks.Answers) bool {
	if len(a) != len(b) {
		return false
	}
	for k, x := range a {
		if y, ok := b[k]; !ok || !SameAnswer(x, y, false) {
			return false
		}
	}
	return true
}

// badMeter finds the newest word against an instrument of an attempt, by its serial:
// it gave part of it after it was last known good, by the clock, or after it was found
// bad, by the order of entries; "" when there is none.
func (j *Job) badMeter(s *State, a *Attempt) (b BadMeter, id string) {
	for _, b := range slices.Backward(j.Bad) {
		if !slices.ContainsFunc(a.Lines, func(l Entered) bool { return l.Seq > b.Seq || !l.At.Before(b.Since) }) {
			continue
		}
		for _, u := range j.usesIn(s, a) {
			if j.EverSerial(u.Meter, b.Serial) {
				return b, u.Meter
			}
		}
		for _, c := range a.Corrections { // named otherwise only after it was found bad
			if m := j.meter(c.Was.Word); m != nil && j.EverSerial(m.ID, b.Serial) && c.Seq > b.Seq {
				return b, m.ID
			}
		}
	}
	return BadMeter{}, ""
}

// badBehind finds an earlier check whose reading a finding rests on and whose
// instrument was found bad, "" when there is none.
func (j *Job) badBehind(a *Attempt) (b BadMeter, check string) {
	if len(j.Bad) == 0 {
		return BadMeter{}, ""
	}
	for _, id := range a.Finding.Uses() {
		s := j.State(id)
		if s == nil || s.LastJudged() == nil {
			continue
		}
		if b, m := j.badMeter(s, s.LastJudged()); m != "" {
			return b, id
		}
	}
	return BadMeter{}, ""
}

// MayCorrect says why answers of the newest judged attempt of a check cannot be put
// right, nil when they can: what was read live is made dead by no pen.
func (j *Job) MayCorrect(s *State, is checks.Answers) error {
	in := j.Again(s)
	was, labels := in.StopsAtOnce(), []string{}
	for _, key := range was {
		f, _ := checks.FieldNamed(in.Form(), key)
		labels = append(labels, f.Label)
	}
	in.Answers = maps.Clone(in.Answers)
	maps.Copy(in.Answers, is)
	still := in.StopsAtOnce()
	if !s.Check.Kind.Proves || !slices.ContainsFunc(was, func(key string) bool { return !slices.Contains(still, key) }) {
		return nil
	}
	return fmt.Errorf("check %s: a point was read live (%s), and no correction makes it dead: prove it dead again with: %s", s.Check.ID, strings.Join(labels, ", "), j.CommandLine("walk", j.ID, "--check", s.Check.ID))
}

// MayAccept says why an engineer cannot accept the newest finding of a check, nil
// when they can. Nobody accepts a proof of dead that is none, a reading taken out of
// order, or a reading or a skip of their own; and a reason says something.
func (j *Job) MayAccept(s *State, engineer, reason string) error {
	p, err := j.accepter(engineer)
	a := s.LastJudged()
	switch {
	case err != nil:
		return err
	case s.Skip != nil:
		return j.maySkip(s, p, reason)
	case a == nil:
		return fmt.Errorf("check %s is not judged: there is nothing to accept; take it with: %s", s.Check.ID, j.CommandLine("walk", j.ID))
	case a != s.Last():
		return fmt.Errorf("check %s is being taken again: finish that first with: %s", s.Check.ID, j.CommandLine("walk", j.ID))
	}
	l := j.lapsed(s, a)
	switch {
	case j.Ordered(s.Check.ID) != nil:
		return fmt.Errorf("check %s: %s stands: take it again, or whoever ordered that withdraws it", s.Check.ID, j.Ordered(s.Check.ID).Name())
	case l.why != "" && !l.accept:
		return fmt.Errorf("check %s: %s: no concession puts that right", s.Check.ID, l.why)
	case a.Finding.Verdict == checks.Pass && l.why == "":
		return fmt.Errorf("check %s passes: there is nothing to accept", s.Check.ID)
	case s.Check.Kind.Proves:
		return fmt.Errorf("check %s came to %s: nobody accepts a proof of dead that is none; prove dead again", s.Check.ID, a.Finding.Verdict)
	}
	if by := j.readBy(a, p); by != "" {
		return fmt.Errorf("%s read it (%s): nobody accepts a reading of their own", p.Name, by)
	}
	return plan.Reasoned(reason)
}

// accepter is a person as one who may accept: an engineer of the plan.
func (j *Job) accepter(engineer string) (*plan.Person, error) {
	return j.engineer(engineer, "is ROLE in the plan: a concession is an engineer's")
}

// maySkip says why an engineer cannot accept a check that was left out as not done.
func (j *Job) maySkip(s *State, p *plan.Person, reason string) error {
	switch a := s.LastJudged(); {
	case j.Ordered(s.Check.ID) != nil:
		return fmt.Errorf("check %s: %s stands: take it, or whoever ordered that withdraws it", s.Check.ID, j.Ordered(s.Check.ID).Name())
	case s.Check.Kind.Proves:
		return fmt.Errorf("check %s was skipped: nobody accepts a proof of dead that was not made; prove dead with: %s", s.Check.ID, j.CommandLine("walk", j.ID, "--check", s.Check.ID))
	case a != nil && a.Told.Stop != nil:
		return fmt.Errorf("check %s: a stop stands: %s: no concession lifts it; take the check again", s.Check.ID, a.Told.Stopping())
	case s.Skip.By == p.ID || sameName(j.PersonName(s.Skip.By), p.Name):
		return fmt.Errorf("%s skipped it (entry %d): nobody accepts a skip of their own", p.Name, s.Skip.Seq)
	}
	return plan.Reasoned(reason)
}

// readBy tells how a person took part in the readings of an attempt, under any id of
// the plan with their name; "" when they did not.
func (j *Job) readBy(a *Attempt, p *plan.Person) string {
	same := func(id string) bool { return id != "" && (id == p.ID || sameName(j.PersonName(id), p.Name)) }
	for _, l := range a.Lines {
		if same(l.By) {
			return fmt.Sprintf("entry %d", l.Seq)
		}
	}
	for _, c := range a.Corrections {
		if same(c.By) {
			return fmt.Sprintf("correction, entry %d", c.Seq)
		}
	}
	if same(a.Answers["who"].Word) {
		return "named as who looked"
	}
	return ""
}
