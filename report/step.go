package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
)

// Step is a step that was done: a hold point's or a plain one.
type Step struct {
	Seq        int
	At         time.Time // when it was recorded
	Taken      time.Time
	By         string
	Did        Stepped           // as recorded
	Open       []Gap             // what the hold still waited for when it was recorded
	Order      string            // the step above it that was neither done nor left by then
	Broken     []network.Refusal // rules that it was recorded against
	Overridden []network.Refusal // rules that somebody took upon them to override
	lock       string            // number of its lock
	from       network.Place     // where its device was before
	Alone      bool              // a second person was wanted, and none but who did it is named
}

// Left is a plain step that was not done, with the reason.
type Left struct {
	Seq  int
	At   time.Time
	Step string
	By   string
	Why  string
}

// Undo is a step that was undone: the device was opened again, the plant was made dead
// again.
type Undo struct {
	Seq    int
	At     time.Time // when it was recorded
	Step   string
	Done   time.Time
	By     string
	Why    string
	Was    Step              // as it was done
	Broken []network.Refusal // rules that undoing it was recorded against

	Overrides  []network.Override
	Overridden []network.Refusal // rules that somebody took upon them to override
}

// applyStep takes up an entry about a step or a device.
func (j *Job) applyStep(e chain.Entry) error {
	j.steps = nil
	switch e.Kind {
	case EntryStep:
		d, err := Decode[Stepped](e)
		if err != nil {
			return err
		}
		return j.done(e, d)
	case EntryUndo:
		d, err := Decode[Undone](e)
		if err != nil {
			return err
		}
		return j.undo(e, d)
	case EntryLeft:
		d, err := Decode[NotDone](e)
		if err != nil {
			return err
		}
		return j.leave(e, d)
	}
	d, err := Decode[FoundSo](e)
	if err != nil {
		return err
	}
	return j.foundSo(e, d)
}

// stepNamed finds the step that an entry names as a hold point's or as a plain one.
func (j *Job) stepNamed(hold, step string) (*plan.Step, *plan.Hold, error) {
	switch h, s := j.Plan.Hold(hold), j.Plan.Step(step); {
	case hold != "" && step != "":
		return nil, nil, fmt.Errorf("hold %q and step %q: one entry is about one of them", hold, step)
	case h != nil:
		return &h.Step, h, nil
	case hold == "" && s != nil && j.Plan.Hold(step) == nil:
		return s, nil, nil
	case hold != "":
		return nil, nil, fmt.Errorf("hold %q: not a hold of the plan", hold)
	}
	return nil, nil, fmt.Errorf("step %q: not a step of the plan", step)
}

func (j *Job) done(e chain.Entry, d Stepped) error {
	s, h, err := j.stepNamed(d.Hold, d.Step)
	if err != nil {
		return err
	}
	taken, err := time.Parse(time.RFC3339, d.Taken)
	if err != nil {
		return fmt.Errorf("%s taken %q: not a time", s.ID, d.Taken)
	}
	step := Step{Seq: e.Seq, At: e.At, Taken: taken, By: e.By, Did: d, lock: j.LockOf(s, d), Alone: s.Confirm && j.Unconfirmed(d.Confirmed, e.By) != ""}
	if step.Open = j.stepHeld(s.ID); h != nil {
		step.Open = j.openFor(h, taken)
	}
	if above := j.StepBefore(s.ID); above != nil {
		step.Order = above.ID
	}
	if was, ok := j.StandingOf(s.Device); ok {
		step.from = was.Place
	}
	if out, ok := j.tries(s, d, taken); ok {
		step.Overridden = out.Overridden
		if out.Refused = j.fresh(s, out.Refused); len(out.Refused) > 0 {
			step.Broken = out.Refused
		}
		m, _ := s.Moves()
		m.Lock, m.At = j.LockOf(s, d), j.clock(taken, e.Seq)
		j.follows(e.Seq, out, m)
	}
	if s.Act == network.ActIssue {
		j.reopen(s)
	}
	j.Steps[s.ID] = step
	j.Done = append(j.Done, step)
	return nil
}

// fresh are the refusals of a step but for one: a step that is done once more, after the
// plant was live meanwhile, may find the device as it would leave it.
func (j *Job) fresh(s *plan.Step, refused []network.Refusal) []network.Refusal {
	if h := j.Plan.Hold(s.ID); h == nil || !j.Retakable(h) {
		return refused
	}
	return standing(refused)
}

// standing are the refusals but for one that says the device stands so already.
func standing(refused []network.Refusal) []network.Refusal {
	return slices.DeleteFunc(slices.Clone(refused), func(r network.Refusal) bool { return r.Rule == network.RuleState && r.Why == network.WhyAlready })
}

// Redoable tells whether a step that was done may be recorded again: the plant was live
// since, or the document it issued is out of force.
func (j *Job) Redoable(s *plan.Step) bool {
	if h := j.Plan.Hold(s.ID); h != nil {
		return j.Retakable(h)
	}
	out, ok := j.tries(s, Stepped{}, j.Head().At)
	return ok && s.Act == network.ActIssue && !slices.ContainsFunc(out.Refused, func(r network.Refusal) bool { return r.Rule == network.RuleState })
}

// reopen makes the steps below one that issues a document anew, which end it, steps still
// to be done.
func (j *Job) reopen(s *plan.Step) {
	below := false
	for _, it := range j.Plan.Items() {
		o := it.Does()
		if below && o != nil && o.Document == s.Document && (o.Act == network.ActClear || o.Act == network.ActCancel) {
			delete(j.Steps, o.ID)
		}
		below = below || o != nil && o.ID == s.ID
	}
}

// undoes is the act that takes a step back. ok is false for a step that none takes back.
func (j *Job) undoes(s *plan.Step) (m network.Step, ok bool) {
	m, moves := s.Moves()
	back := plan.Back(m.Act)
	if !moves || back == "" {
		return m, false
	}
	m.Act = back
	if from := j.Steps[s.ID].from; racks(back) && from != "" {
		m.Act = racking[from]
	}
	if m.Lock != "" {
		m.Lock = j.LockOf(s, j.Steps[s.ID].Did)
	}
	if j.Plan.Network != nil { // what goes dark when a step is undone does so on purpose
		m.Drops = j.loads()
	}
	return m, true
}

// Undoable says why a step cannot be recorded as undone at a time, nil when it can: steps
// are undone in the order opposite to the one they were taken in.
func (j *Job) Undoable(s *plan.Step) error {
	if _, taken := j.Steps[s.ID]; !taken {
		return fmt.Errorf("the step %s was not done: there is nothing to undo", s.ID)
	}
	for _, it := range slices.Backward(j.Plan.Items()) {
		o := it.Does()
		if o == nil {
			continue
		}
		if o.ID == s.ID {
			break
		}
		if _, done := j.Steps[o.ID]; done {
			return fmt.Errorf("the step %s (%s) below it was done after it: undo that first and record it with: %s", o.ID, o.Action, j.CommandLine("undone", j.ID, o.ID, "--why", "WHY"))
		}
	}
	if j.forGood(s) {
		return fmt.Errorf("%s: nothing undoes that: %s", s.Action, j.instead(s))
	}
	return nil
}

// UndoRefusals are the rules that undoing a step would break at a time, but for those that
// somebody overrides.
func (j *Job) UndoRefusals(s *plan.Step, overrides []network.Override, at time.Time) []network.Refusal {
	m, ok := j.undoes(s)
	if !ok || j.plant == nil {
		return nil
	}
	m.Overrides, m.At = overrides, j.clock(at, j.Head().Seq)
	return standing(j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m).Refused)
}

// forGood tells whether nothing undoes what a step does: a document once issued, cleared
// or cancelled, a charge once taken.
func (j *Job) forGood(s *plan.Step) bool {
	m, moves := s.Moves()
	return moves && plan.Back(m.Act) == ""
}

// instead says which step of the plan does what undoing another would.
func (j *Job) instead(s *plan.Step) string {
	ends := map[network.Act]network.Act{network.ActIssue: network.ActCancel, network.ActClear: network.ActIssue, network.ActCancel: network.ActIssue}
	for _, it := range j.Plan.Items() {
		if o := it.Does(); o != nil && s.Document != "" && o.Document == s.Document && o.Act == ends[s.Act] {
			return fmt.Sprintf("step %s does (%s)", o.ID, o.Action)
		}
	}
	return "the plan has no step that does; a changed plan gives one"
}

// racking is the act that brings a device to each place.
var racking = map[network.Place]network.Act{network.Service: network.ActService, network.Test: network.ActTestPlace, network.Withdrawn: network.ActWithdraw}

func racks(a network.Act) bool { return a == network.ActService || a == network.ActWithdraw }

// undo takes a step back: its hold point closes again.
func (j *Job) undo(e chain.Entry, u Undone) error {
	s, _, err := j.stepNamed(u.Hold, u.Step)
	if err != nil {
		return err
	}
	done, err := time.Parse(time.RFC3339, u.Done)
	if err != nil {
		return err
	}
	was, taken := j.Steps[s.ID]
	if !taken {
		return fmt.Errorf("step %q was not done: there is nothing to undo", s.ID)
	}
	undo := Undo{Seq: e.Seq, At: e.At, Step: s.ID, Done: done, By: e.By, Why: u.Why, Was: was, Overrides: u.Overrides}
	if m, ok := j.undoes(s); ok && j.plant != nil {
		m.Overrides, m.At = u.Overrides, j.clock(done, e.Seq)
		out := j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m)
		undo.Broken, undo.Overridden = standing(out.Refused), out.Overridden // a trip may have undone it
		j.follows(e.Seq, out, m)
	}
	delete(j.Steps, s.ID)
	j.Undos = append(j.Undos, undo)
	return nil
}

func (j *Job) leave(e chain.Entry, d NotDone) error {
	s, _, err := j.stepNamed("", d.Step)
	if err != nil {
		return err
	}
	if _, done := j.Steps[s.ID]; done {
		return fmt.Errorf("step %q was done: it cannot be left", s.ID)
	}
	j.Left = append(j.Left, Left{e.Seq, e.At, s.ID, e.By, d.Why})
	return nil
}

// LeftNow is the newest word that a step is left, nil when it was done or undone since, or
// never left.
func (j *Job) LeftNow(step string) *Left {
	if _, done := j.Steps[step]; done {
		return nil
	}
	for i := len(j.Left) - 1; i >= 0; i-- {
		if l := &j.Left[i]; l.Step == step {
			if l.Seq < j.undoneAt(step) {
				return nil
			}
			return l
		}
	}
	return nil
}

// StepBefore is the first step above the named one that was neither done nor left, nil
// when there is none. Above a hold point a plain step counts as a gap, not here.
func (j *Job) StepBefore(id string) *plan.Step {
	hold := j.Plan.Hold(id) != nil
	for _, it := range j.Plan.Items() {
		s := it.Does()
		if s == nil || hold && it.Hold == nil && s.ID != id {
			continue
		}
		if s.ID == id {
			return nil
		}
		if _, done := j.Steps[s.ID]; !done && j.LeftNow(s.ID) == nil {
			return s
		}
	}
	return nil
}

// OpenSteps are the plain steps that were not done, in plan order; those that were left
// are among them.
func (j *Job) OpenSteps() []*plan.Step {
	var out []*plan.Step
	for _, it := range j.Plan.Items() {
		if it.Step == nil {
			continue
		}
		if _, done := j.Steps[it.Step.ID]; !done {
			out = append(out, it.Step)
		}
	}
	return out
}

// Unconfirmed says why somebody is no second person beside who did a step, "" when they
// are.
func (j *Job) Unconfirmed(who, by string) string {
	switch {
	case strings.TrimSpace(who) == "":
		return "a second person confirms it"
	case who == by || sameName(j.PersonName(who), j.PersonName(by)):
		return fmt.Sprintf("%s did it: a second person confirms it", j.PersonName(by))
	}
	return ""
}

// stepGaps are the plain steps above a hold point that were not done.
func (j *Job) stepGaps(h *plan.Hold) []Gap {
	var out []Gap
	for _, it := range j.Plan.Items() {
		if it.Hold != nil && it.Hold.ID == h.ID {
			break
		}
		s := it.Step
		if s == nil {
			continue
		}
		if _, done := j.Steps[s.ID]; done {
			continue
		}
		g := Gap{Step: s.ID, Title: s.Action, Why: "not done"}
		if l := j.LeftNow(s.ID); l != nil {
			g.Left, g.Why = l.Why, fmt.Sprintf("left by %s: %s", j.PersonName(l.By), l.Why)
		}
		out = append(out, g)
	}
	return out
}

// Refusals are the rules that a step would break at a time, as it would be recorded.
func (j *Job) Refusals(s *plan.Step, d Stepped, at time.Time) []network.Refusal {
	out, _ := j.tries(s, d, at)
	return j.fresh(s, out.Refused)
}

// ruleGaps are the rules that the step of a hold point would break now.
func (j *Job) ruleGaps(h *plan.Hold, now time.Time) []Gap {
	var out []Gap
	for _, r := range j.Refusals(&h.Step, Stepped{}, now) {
		out = append(out, Gap{Rule: string(r.Rule), Title: h.Action, Why: RefusalWords(j.Plan, r)})
	}
	return out
}

// doneAt is a step as an entry recorded it, whatever became of it since; nil for none.
func (j *Job) doneAt(entry int) *Step {
	for i := range j.Done {
		if j.Done[i].Seq == entry {
			return &j.Done[i]
		}
	}
	return nil
}
