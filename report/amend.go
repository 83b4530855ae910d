package report

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
)

// Amendment is a change of the plan during the job. The plan before it goes on to judge
// what was recorded before it.
type Amendment struct {
	Amended
	Seq      int
	At       time.Time
	By       string
	Version  *plan.Plan // the plan as amended
	Differs  []plan.Difference
	Void     string // why no command would have taken it, "" when one would
	Accepted *Acceptance
}

// Acceptance is an engineer's word that the plan as amended is to be worked by.
type Acceptance struct {
	Seq        int // that of the amendment itself, where an engineer made it
	At         time.Time
	By, Reason string
}

// opened is the plan the job was opened with.
func (j *Job) opened() *plan.Plan {
	if j.first != nil {
		return j.first
	}
	return j.Plan
}

// versions are all that the plan ever was, oldest first.
func (j *Job) versions() []*plan.Plan {
	out := []*plan.Plan{j.opened()}
	for _, a := range j.Amendments {
		out = append(out, a.Version)
	}
	return out
}

// Force is the SHA-256 of the plan in force.
func (j *Job) Force() string {
	if n := len(j.Amendments); n > 0 {
		return j.Amendments[n-1].PlanHash
	}
	return j.PlanHash
}

// PlanOf is the version of the plan with this SHA-256, nil when the job never had it.
func (j *Job) PlanOf(hash string) *plan.Plan {
	for _, a := range slices.Backward(j.Amendments) {
		if a.PlanHash == hash {
			return a.Version
		}
	}
	if hash == j.PlanHash {
		return j.opened()
	}
	return nil
}

// Decided is the newest version of the plan of which every amendment was made or accepted
// by an engineer: it tells who is an engineer, and what frees a hold point.
func (j *Job) Decided() *plan.Plan {
	p := j.opened()
	for _, a := range j.Amendments {
		if a.Accepted == nil || a.Void != "" {
			break
		}
		p = a.Version
	}
	return p
}

// meter finds an instrument in the plan as it is, or as it was.
func (j *Job) meter(id string) *plan.Meter {
	for _, p := range slices.Backward(j.versions()) {
		if m := p.Meter(id); m != nil {
			return m
		}
	}
	return nil
}

// EverSerial tells whether any version of the plan gives an instrument a serial number:
// one that was put right is the number of what was read before, too.
func (j *Job) EverSerial(id, serial string) bool {
	return slices.ContainsFunc(j.versions(), func(p *plan.Plan) bool { m := p.Meter(id); return m != nil && plan.SameSerial(m.Serial, serial) })
}

// all are the states of the checks of the plan, and of those taken out of it.
func (j *Job) all() []*State { return append(slices.Clone(j.States), j.TakenOut...) }

// MayAmend says why the plan cannot be replaced by another version of it, nil when it
// can. What the record rests on stays: who is in it, what was read with, what was done.
func (j *Job) MayAmend(p *plan.Plan) error {
	switch {
	case p.ID != j.Plan.ID:
		return fmt.Errorf("its id is %s, that of the job's plan is %s: an amended plan keeps it", p.ID, j.Plan.ID)
	case len(plan.Differences(j.Plan, p)) == 0:
		return fmt.Errorf("it says nothing else than the plan of the job")
	}
	for _, q := range j.Plan.People {
		if is := p.Person(q.ID); is == nil || is.Name != q.Name {
			return fmt.Errorf("people: %s (%s, %s) is not in it as before: people may be added, and stay in it under their names", q.ID, q.Name, q.Role)
		}
	}
	for _, u := range j.Uses() {
		if p.Meter(u.Meter) == nil {
			return fmt.Errorf("instruments: %s is not in it, and check %s was read with it", u.Meter, u.Check)
		}
	}
	if err := j.keepsSteps(p); err != nil {
		return err
	}
	for _, s := range j.States {
		a := s.LastJudged()
		if c := p.Check(s.Check.ID); a != nil && a.Told.Stop != nil && (c == nil || c.Kind.Name != s.Check.Kind.Name) {
			return fmt.Errorf("check %s is not in it as before, and a stop stands there: %s; take the check again first", s.Check.ID, a.Told.Stopping())
		}
	}
	for _, d := range j.Defects {
		if d.Closed == nil && d.Holds != "" && p.Hold(d.Holds) == nil {
			return fmt.Errorf("hold %s is not in it, and %s, which is open, holds it", d.Holds, d.Name())
		}
	}
	return nil
}

// keepsSteps says which step that was ever done is not in a plan as before, or that the
// network it moved is not.
func (j *Job) keepsSteps(p *plan.Plan) error {
	last, moved := -1, false
	for _, it := range j.Plan.Items() {
		s := it.Does()
		if s == nil {
			continue
		}
		if _, done := j.Steps[s.ID]; !done && j.undoneAt(s.ID) == 0 {
			continue
		}
		_, moves := s.Moves()
		moved = moved || moves
		at := slices.IndexFunc(p.Items(), func(o plan.Item) bool {
			return o.Does() != nil && o.ID() == s.ID && (o.Hold == nil) == (it.Hold == nil)
		})
		if at < 0 || !p.Items()[at].Does().SameAct(s) || at < last {
			return fmt.Errorf("step %s (%s) is not in it as before, and it was done", s.ID, s.Action)
		}
		last = at
	}
	switch had, has := j.Plan.Network != nil, p.Network != nil; {
	case had && !has:
		return fmt.Errorf("network: it may be put right, not taken out of the plan of a job")
	case has && !had && moved:
		return fmt.Errorf("network: steps were done before it was given, so that nobody knows how its devices stand")
	}
	return nil
}

// amend puts another version of the plan in force.
func (j *Job) amend(e chain.Entry) error {
	d, err := Decode[Amended](e)
	if err != nil {
		return err
	}
	if got := chain.HashPlan([]byte(d.Plan)); got != d.PlanHash {
		return fmt.Errorf("the plan in it has SHA-256 %s, it names %s", got, d.PlanHash)
	}
	p, err := plan.Load(d.PlanFile, []byte(d.Plan))
	if err != nil {
		return err
	}
	a := &Amendment{Amended: d, Seq: e.Seq, At: e.At, By: e.By, Version: p, Differs: plan.Differences(j.Plan, p)}
	if err := j.MayAmend(p); err != nil {
		a.Void = err.Error()
		j.amendFaults[e.Seq] = fmt.Sprintf("an amendment of the plan that no command takes: %v", err)
	}
	if q := j.Decided().Person(e.By); q != nil && q.Role == "engineer" && !j.PlanByKey(p) {
		a.Accepted = &Acceptance{Seq: e.Seq, At: e.At, By: e.By, Reason: d.Why}
	}
	was, crossed := j.Plan, j.crossed(p)
	for _, s := range j.States {
		for _, x := range s.Attempts {
			if x.plan == nil {
				x.plan, x.check = was, s.Check
			}
		}
	}
	j.first, j.Amendments, j.Plan = j.opened(), append(j.Amendments, a), p
	j.layPlant()
	j.putRight(was, e)
	j.sortStates(e.Seq)
	for _, s := range j.States {
		if crossed[s.Check.ID] != "" {
			s.crossed, s.crossedAt = crossed[s.Check.ID], e.Seq
		}
		if l := s.LastJudged(); l != nil && (was.StepWritten(s.Check.ID) != p.StepWritten(s.Check.ID) ||
			!SameJudgement(l.Told, NewJudged(s.Check.Kind, l.Number, checks.Judge(j.Again(s)), ""))) {
			s.amended = e.Seq
		}
	}
	return nil
}

// sortStates gives every check of the plan its state: its own from before where it is of
// one kind still, taken out since or not. What has none left is taken out.
func (j *Job) sortStates(seq int) {
	old := j.all()
	j.States, j.TakenOut = nil, nil
	kept := map[*State]bool{}
	for _, c := range j.Plan.Checks() {
		i := slices.IndexFunc(old, func(s *State) bool { return s.Check.ID == c.ID && s.Check.Kind.Name == c.Kind.Name })
		s := &State{}
		if i >= 0 {
			s = old[i]
		}
		if s.Out > 0 {
			s.Out, s.amended = 0, seq
		}
		s.Check = c
		kept[s] = true
		j.States = append(j.States, s)
	}
	for _, s := range old {
		if !kept[s] {
			if s.Out == 0 {
				s.Out = seq
			}
			j.TakenOut = append(j.TakenOut, s)
		}
	}
	j.inOrder()
}

// MustJudge tells whether an amendment changed what the newest judged attempt comes to, and
// it was not judged again since.
func (s *State) MustJudge() bool {
	a := s.LastJudged()
	return a != nil && s.amended > a.Seq
}

// crossed tells of the checks that another version of the plan moves to the other side of
// a hold point whose step was taken, with that hold: what was read there was read in
// another state of the plant.
func (j *Job) crossed(p *plan.Plan) map[string]string {
	above := func(p *plan.Plan, hold string) map[string]bool {
		out := map[string]bool{}
		for _, it := range p.Items() {
			if it.Hold != nil && it.Hold.ID == hold {
				return out
			}
			if it.Check != nil {
				out[it.Check.ID] = true
			}
		}
		return out
	}
	out := map[string]string{}
	for hold := range j.Steps {
		was, is := above(j.Plan, hold), above(p, hold)
		for _, c := range p.Checks() {
			if j.Plan.Check(c.ID) != nil && was[c.ID] != is[c.ID] {
				out[c.ID] = hold
			}
		}
	}
	return out
}

// accept takes up an engineer's word that the plan in force is to be worked by.
func (j *Job) accept(e chain.Entry) error {
	d, err := Decode[AcceptedPlan](e)
	if err != nil {
		return err
	}
	byKey := j.PlanByKey(j.Plan)
	proof := j.prove(e, Conceded{Signed: d.Signed}, j.AcceptingPlan(e.By, d.Reason))
	err = j.MayAcceptPlan(e.By, d.Reason)
	switch {
	case d.PlanHash != j.Force():
		err = fmt.Errorf("the plan accepted, SHA-256 %.70q, is not the one in force", d.PlanHash)
	case err == nil && proof.Unlisted != "" && proof.Fault == "":
		return nil // by a key not known: it accepts nothing, and the record is whole
	case err == nil && (byKey || proof.Fault != "") && proof.Doubt() != "":
		err = errors.New(proof.Doubt())
	}
	if err != nil {
		j.amendFaults[e.Seq] = fmt.Sprintf("an acceptance of the plan that accepts nothing: %v", err)
		return nil
	}
	for _, a := range j.Amendments {
		if a.Accepted == nil {
			a.Accepted = &Acceptance{e.Seq, e.At, e.By, d.Reason}
		}
	}
	j.revoke()
	return nil
}

// PlanByKey tells whether a version of the plan is accepted by a key alone: where nothing
// is accepted unsigned, and where people known before have other keys or roles in it. The key
// is one that was listed before.
func (j *Job) PlanByKey(p *plan.Plan) bool {
	was := j.Decided()
	if j.SignsAcceptances() {
		return true
	}
	for _, q := range was.People {
		if is := p.Person(q.ID); is != nil && (is.Role != q.Role || !slices.Equal(is.Keys, q.Keys) || !slices.Equal(is.Revoked, q.Revoked)) {
			return true
		}
	}
	return false
}

// MayAcceptPlan says why a person cannot accept the plan as it was amended, nil when they
// can: an engineer does, and where people alone are changed, an owner too.
func (j *Job) MayAcceptPlan(by, reason string) error {
	was := j.Decided()
	q := was.Person(by)
	people := !slices.ContainsFunc(plan.Differences(was, j.Plan), func(d plan.Difference) bool { return !strings.HasPrefix(d.Path, "people") })
	if q == nil || q.Role != "engineer" && !(q.Role == "owner" && people) {
		return j.notTheirs(by, people, "is no engineer of the plan as it was last decided: an amended plan is an engineer's to accept")
	}
	if !slices.ContainsFunc(j.Amendments, func(a *Amendment) bool { return a.Accepted == nil }) {
		return fmt.Errorf("no amendment of the plan waits to be accepted")
	}
	return plan.Reasoned(reason)
}

// undecided says why a finding does not free a hold point yet: what it is judged by was
// changed in the plan, and no engineer has accepted that. "" when nothing was.
func (j *Job) undecided(s *State) string {
	is, was := j.Plan, j.Decided()
	if is == was {
		return ""
	}
	changed := func(what string) string {
		return fmt.Sprintf("%s was changed by an amendment of the plan that no engineer has accepted", what)
	}
	if is.BaseWritten() != was.BaseWritten() {
		return changed("what every check is judged with")
	}
	id := s.Check.ID
	if w := was.StepWritten(id); w != "" && w != is.StepWritten(id) {
		return changed("this check")
	}
	if w := was.ProcedureWritten(id); w != "" && w != is.ProcedureWritten(id) {
		return changed("its procedure")
	}
	if a := s.LastJudged(); a != nil {
		for _, u := range j.usesIn(s, a) {
			if w := was.MeterWritten(u.Meter); w != "" && w != is.MeterWritten(u.Meter) {
				return changed("instrument " + u.Meter)
			}
		}
	}
	return ""
}

// planGaps are what a hold point waits for because of amendments that no engineer has
// accepted: it is new or its step another, or a check it needed is taken out.
func (j *Job) planGaps(h *plan.Hold) []Gap {
	was := j.Decided()
	if was == j.Plan {
		return nil
	}
	before := was.Hold(h.ID)
	if before == nil || before.Action != h.Action {
		return []Gap{{Check: "plan", Title: "amended", Verdict: checks.Missing, Why: "this hold point was changed by an amendment that no engineer has accepted"}}
	}
	var out []Gap
	for _, id := range before.Needs {
		if !slices.Contains(h.Needs, id) {
			out = append(out, Gap{Check: id, Title: was.Check(id).Title, Verdict: checks.Missing,
				Why: "taken out of what this hold needs by an amendment that no engineer has accepted"})
		}
	}
	return out
}
