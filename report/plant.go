package report

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
)

// plantNow is how the plant of a job stands, as the network of its plan, the recorded
// steps and the findings make it.
type plantNow struct {
	state  network.State
	memory network.Memory
	live   map[string]lastLive // by node
	moved  int                 // the newest entry that moved anything
}

// lastLive is when a node was, or may have been, live last: by entry, and by the time of
// what the entry tells.
type lastLive struct {
	entry int
	at    time.Duration
}

// layPlant takes up what the plan's network holds and the plant has not yet: all of it at
// the start, and what a plan put in its place adds.
func (j *Job) layPlant() {
	g := j.Plan.Grid()
	if g == nil {
		j.plant = nil
		return
	}
	state, memory := g.Start()
	if j.plant == nil {
		j.plant = &plantNow{state: state, memory: memory, live: map[string]lastLive{}}
		return
	}
	maps.Copy(state, j.plant.state)
	maps.Copy(memory.Keys, j.plant.memory.Keys)
	maps.Copy(memory.Charged, j.plant.memory.Charged)
	j.plant.state = state
	j.plant.memory.Keys, j.plant.memory.Charged = memory.Keys, memory.Charged
}

// putRight takes up the positions that an amendment puts right. Of a device that nothing
// moved yet it was the drawing that was wrong: it stands, and always stood, as the new one
// has it, and what was proved by the wrong one falls as when it is found otherwise.
func (j *Job) putRight(was *plan.Plan, e chain.Entry) {
	if j.plant == nil || was.Grid() == nil {
		return
	}
	before, _ := was.Grid().Start()
	after, _ := j.Plan.Grid().Start()
	for _, d := range j.Plan.Grid().Network().Devices {
		old, had := before[d.ID]
		is := after[d.ID]
		if !had || j.moved(was, d.ID) || old.Pos == is.Pos && old.Place == is.Place && slices.Equal(old.Locks, is.Locks) {
			continue
		}
		m := network.Step{Act: network.ActFound, Device: d.ID, Found: &is, At: j.clock(e.At, e.Seq), Drops: j.loads()}
		if out := j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m); len(out.Refused) == 0 {
			j.follows(e.Seq, out, m)
		}
	}
}

// moved tells whether a device was moved, locked or found otherwise by what is recorded.
func (j *Job) moved(p *plan.Plan, device string) bool {
	return slices.ContainsFunc(j.Done, func(s Step) bool {
		o := p.Step(s.Did.ID())
		return o == nil || o.Device == device
	}) || slices.ContainsFunc(j.Found, func(f Found) bool { return f.Device == device })
}

// clock is a moment of an entry as the network counts time: since the job was opened.
// Setting the clock back makes nothing younger.
func (j *Job) clock(at time.Time, entry int) time.Duration {
	return at.Sub(j.OpenedAt) + j.setBack(1, entry)
}

// PlantView is what the plant comes to at a time; ok is false for a plan without a network.
func (j *Job) PlantView(now time.Time) (v network.View, s network.State, ok bool) {
	if j.plant == nil {
		return v, nil, false
	}
	return j.Plan.Grid().Look(j.plant.state, j.plant.memory, j.clock(now, j.Head().Seq)), j.plant.state, true
}

// StandingOf is how a device stands, as the record has it; ok is false where the network has none.
func (j *Job) StandingOf(device string) (s network.Standing, ok bool) {
	if j.plant == nil || j.Plan.Network.Device(device) == nil {
		return s, false
	}
	return j.plant.state[device], true
}

// tries is what would come of an act now, at a time. ok is false for one that is not the
// network's.
func (j *Job) tries(s *plan.Step, d Stepped, at time.Time) (out network.Outcome, ok bool) {
	m, moves := s.Moves()
	if !moves || j.plant == nil {
		return out, false
	}
	if m.Lock != "" {
		m.Lock = j.LockOf(s, d)
	}
	m.Overrides, m.At = d.Overrides, j.clock(at, j.Head().Seq)
	out = j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m)
	return out, true
}

// LockOf is the number of the lock of a step as it is: as recorded with the step, as
// recorded when it was fitted, or the plan's.
func (j *Job) LockOf(s *plan.Step, d Stepped) string {
	if d.Lock != "" {
		return d.Lock
	}
	for _, it := range j.Plan.Items() {
		o := it.Does()
		if o == nil || s.Act != network.ActUnlock || o.Act != network.ActLock || o.Device != s.Device || o.Lock != s.Lock {
			continue
		}
		if is, done := j.Steps[o.ID]; done && is.Did.Lock != "" {
			return is.Did.Lock
		}
	}
	return s.Lock
}

// follows brings the plant up to an act that was recorded. One that a rule refuses was
// done all the same: the plant is taken as the act leaves it.
func (j *Job) follows(entry int, out network.Outcome, m network.Step) {
	if len(out.Refused) > 0 {
		out = j.asDone(m)
	}
	j.plant.state, j.plant.memory, j.plant.moved = out.State, out.Memory, entry
	for _, v := range []network.View{out.Before, out.After} {
		for _, n := range v.Nodes {
			if len(n.MayLive) > 0 {
				j.plant.live[n.ID] = lastLive{entry, m.At}
			}
		}
	}
}

// asDone is what comes of an act that was done against a rule. A discharge that the rules
// refuse is not believed.
func (j *Job) asDone(m network.Step) network.Outcome {
	memory := network.Memory{Proofs: maps.Clone(j.plant.memory.Proofs), Phasings: maps.Clone(j.plant.memory.Phasings),
		Documents: maps.Clone(j.plant.memory.Documents), Keys: maps.Clone(j.plant.memory.Keys), Charged: maps.Clone(j.plant.memory.Charged)}
	is := j.plant.state[m.Device]
	is.Locks = slices.Clone(is.Locks)
	doc, inForce := memory.Documents[m.Document]
	switch m.Act {
	case network.ActOpen, network.ActClose, network.ActWithdraw, network.ActTestPlace, network.ActService, network.ActEarthOn, network.ActEarthOff:
		is = is.Moved(m.Act)
	case network.ActLock:
		if !slices.Contains(is.Locks, m.Lock) {
			is.Locks = append(is.Locks, m.Lock)
		}
	case network.ActUnlock:
		is.Locks = slices.DeleteFunc(is.Locks, func(l string) bool { return l == m.Lock })
	case network.ActIssue:
		memory.Documents[m.Document] = network.Document{Type: m.Type, Nodes: m.Nodes}
	case network.ActClear:
		if doc.Cleared = true; inForce {
			memory.Documents[m.Document] = doc
		}
	case network.ActCancel:
		delete(memory.Documents, m.Document)
	case network.ActKeyOut:
		memory.Keys[m.Key] = network.InHand
	case network.ActKeyIn:
		memory.Keys[m.Key] = m.Device
	}
	found := network.Step{Act: network.ActFound, Device: m.Device, Found: &is, At: m.At, Drops: j.loads()}
	if out := j.Plan.Grid().Attempt(j.plant.state, memory, found); len(out.Refused) == 0 {
		return out
	}
	view := j.Plan.Grid().Look(j.plant.state, memory, m.At)
	return network.Outcome{State: j.plant.state, Memory: memory, Before: view, After: view}
}

// proves takes up what a judgement tells of the plant: a node proved dead, sides in phase.
// One that does not pass, or does not count, takes back what an earlier one told. passed
// says that the same attempt passed before: what became of its word since stays so.
func (j *Job) proves(s *State, passed bool) {
	m, ok := s.Check.Finds()
	a := s.LastJudged()
	if !ok || j.plant == nil || a == nil {
		return
	}
	if a.Finding.Verdict != checks.Pass || j.lapsed(s, a).why != "" {
		delete(j.plant.memory.Proofs, m.Node)
		delete(j.plant.memory.Phasings, m.Device)
		return
	}
	if passed || j.plant.moved > a.begun() { // what was read before an act tells nothing of the plant after it
		return
	}
	at := a.At
	if s.Check.Kind.Proves && !a.Finding.Until.IsZero() { // from the proof on, however late it was typed
		at = a.Finding.Until.Add(-s.Check.LifeOf())
	}
	m.At, m.By = j.clock(at, a.begun()), a.By
	if m.At+time.Minute <= j.plant.live[m.Node].at { // times are typed to the minute
		return
	}
	if out := j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m); len(out.Refused) == 0 {
		j.plant.memory = out.Memory
	}
}

// contradicted says why a finding of the check cannot be true, as the network has the
// plant: dead where it is live, in phase where a side is dead; "" when it can.
func (j *Job) contradicted(c *plan.Check) string {
	m, ok := c.Finds()
	if !ok || j.plant == nil {
		return ""
	}
	m.At = j.clock(j.Head().At, j.Head().Seq)
	return j.refusalWords(j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m).Refused)
}

// liveAt is the newest entry by which the node that a check proves dead was live, 0 when
// none is known.
func (j *Job) liveAt(c *plan.Check) int {
	if j.plant == nil || c.Node == "" {
		return 0
	}
	return j.plant.live[c.Node].entry
}

// Found is a device that was found to stand otherwise than the record has it: a trip, a
// drawing that is wrong.
type Found struct {
	Seq     int
	At      time.Time // when it was recorded
	Seen    time.Time
	By      string
	Device  string
	Was, Is network.Standing
	Why     string
	Broken  []network.Refusal // rules that it breaks as it stands
	Loads   []string          // that it left dark

	// Accepted is an engineer's word that it may stand so; theirs who recorded it alone, where
	// nothing has to be signed.
	Accepted *Acceptance
}

func (j *Job) foundSo(e chain.Entry, d FoundSo) error {
	seen, err := time.Parse(time.RFC3339, d.Seen)
	if err != nil {
		return err
	}
	was, ok := j.StandingOf(d.Device)
	if !ok {
		return fmt.Errorf("no device %q in the network of the plan", d.Device)
	}
	is := d.standing()
	m := network.Step{Act: network.ActFound, Device: d.Device, Found: &is, At: j.clock(seen, e.Seq), Drops: j.loads()}
	out := j.Plan.Grid().Attempt(j.plant.state, j.plant.memory, m)
	if len(out.Refused) > 0 {
		return fmt.Errorf("device %s cannot stand %s %s", d.Device, d.Position, d.Place)
	}
	j.follows(e.Seq, out, m)
	f := Found{Seq: e.Seq, At: e.At, Seen: seen, By: e.By, Device: d.Device, Was: was, Is: is, Why: d.Why, Broken: out.Broken, Loads: out.Loads}
	if _, err := j.accepter(e.By); err == nil && !j.SignsAcceptances() {
		f.Accepted = &Acceptance{e.Seq, e.At, e.By, d.Why}
	}
	j.Found = append(j.Found, f)
	return nil
}

// MayAcceptFound is the entry of what was found last of a device and nobody accepted, or
// why a person cannot accept it. Nobody accepts what they recorded themselves under
// another of their ids.
func (j *Job) MayAcceptFound(device, engineer, reason string) (entry int, err error) {
	p, err := j.accepter(engineer)
	if err != nil {
		return 0, err
	}
	for _, f := range slices.Backward(j.Found) {
		switch {
		case f.Device != device || f.Accepted != nil:
			continue
		case f.By != engineer && sameName(j.PersonName(f.By), p.Name):
			return 0, fmt.Errorf("%s recorded it (entry %d): nobody accepts what they recorded themselves", p.Name, f.Seq)
		}
		return f.Seq, plan.Reasoned(reason)
	}
	return 0, fmt.Errorf("%s was not found otherwise than recorded, or that is accepted already: there is nothing to accept", j.named(device))
}

// acceptFound takes up an engineer's word on what was found of a device, the newest and
// what came before it. One that no command writes accepts nothing.
func (j *Job) acceptFound(e chain.Entry) error {
	c, err := Decode[Conceded](e)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(j.Found, func(f Found) bool { return f.Seq == c.Found })
	if i < 0 {
		return fmt.Errorf("entry %d found no device otherwise", c.Found)
	}
	device := j.Found[i].Device
	proof := j.prove(e, c, j.accepting(nil, c))
	if newest, err := j.MayAcceptFound(device, c.Engineer, c.Reason); err != nil || newest != c.Found || proof.Void() != "" {
		return nil
	}
	for k := range j.Found {
		if f := &j.Found[k]; f.Device == device && f.Accepted == nil {
			f.Accepted = &Acceptance{e.Seq, e.At, c.Engineer, c.Reason}
		}
	}
	return nil
}

// foundWords tell what was found of a device, and what an engineer says of it.
func (j *Job) foundWords(f Found) (is, accepted string) {
	is = fmt.Sprintf("%s found %s, recorded was %s", j.named(f.Device), StandingWords(f.Is), StandingWords(f.Was))
	switch {
	case f.Accepted == nil:
		return is, "not accepted by an engineer"
	case f.Accepted.Seq == f.Seq:
		return is, "recorded by an engineer"
	}
	return is, fmt.Sprintf("accepted by %s, %s: %s; %s", j.PersonName(f.Accepted.By), Stamp(f.Accepted.At), f.Accepted.Reason, j.Proof(f.Accepted.Seq).Words())
}

// foundAgainst are the devices found otherwise that no engineer has accepted.
func (j *Job) foundAgainst() []string {
	var out []string
	for _, f := range j.Found {
		if is, accepted := j.foundWords(f); f.Accepted == nil {
			out = append(out, fmt.Sprintf("%s (entry %d): %s", is, f.Seq, accepted))
		}
	}
	return out
}

// named is what a node or device is called on site, or its id where the plan has no network.
func (j *Job) named(id string) string {
	if j.Plan.Network == nil {
		return id
	}
	return j.Plan.Network.Named(id)
}

// loads are all the loads of the network: an act that nobody planned drops what it drops.
func (j *Job) loads() []string {
	var out []string
	for _, n := range j.Plan.Network.Nodes {
		out = append(out, n.Load)
	}
	return out
}

// PlantAt tells how the plant stands that a step is about: its device and the nodes at its
// ends, or the nodes of its document; nothing where the plan has no network.
func (j *Job) PlantAt(s *plan.Step, now time.Time) []string {
	v, state, ok := j.PlantView(now)
	if !ok {
		return nil
	}
	nodes, out, stopped := slices.Clone(s.Nodes), []string{}, j.StoppedNodes()
	for _, d := range j.Plan.Grid().Network().Devices {
		if d.ID == s.Device {
			out = append(out, plantLine(j.Plan, d.ID, DeviceWords(j.Plan, d, v, state[d.ID])))
			nodes = append(nodes, d.Between...)
		}
	}
	if doc, in := j.plant.memory.Documents[s.Document]; in {
		nodes = append(nodes, doc.Nodes...)
	}
	for _, n := range v.Nodes {
		if slices.Contains(nodes, n.ID) {
			out = append(out, plantLine(j.Plan, n.ID, NodeWords(j.Plan, n, stopped[n.ID])))
		}
	}
	return out
}
