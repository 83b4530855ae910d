package network

import "slices"

// Outcome is what comes of a step.
type Outcome struct {
	Refused    []Refusal `json:"refused,omitempty"`    // every breach that stands: with one the step is not to be done, and nothing changes
	Overridden []Refusal `json:"overridden,omitempty"` // breaches that somebody took upon them
	Broken     []Refusal `json:"broken,omitempty"`     // of the act found: what the standing found breaks; it is recorded all the same
	State      State     `json:"state"`
	Memory     Memory    `json:"memory"`
	Before     View      `json:"before"`
	After      View      `json:"after"` // at the time of the step
	Lost       []string  `json:"lost,omitempty"`
	Loads      []string  `json:"loads,omitempty"` // of the nodes lost
}

// trial is one step being judged: on what stands, and on what the act would make of it.
type trial struct {
	p             *Plant
	step          Step
	state         State
	was, is       frame
	old, mem      Memory
	before, after View
	d             int // the device's number, when the step has one
	dev           Device
	refused       []Refusal
}

// Attempt judges a step by the rules and gives the state and memory after it. Every rule broken is named, on the state before the step and on
// the state it would give. A refused step changes nothing.
func (p *Plant) Attempt(s State, m Memory, step Step) Outcome {
	return p.attempt(s, m, step, step.overridden)
}

// attempt is Attempt with another word on what may go on.
func (p *Plant) attempt(s State, m Memory, step Step, granted func(Refusal) bool) Outcome {
	t := &trial{p: p, step: step, state: s, was: p.frame(s), old: m, mem: m.clone(), d: -1}
	t.is = slices.Clone(t.was)
	t.before = p.look(t.was, m, step.At)
	t.after = t.before
	t.act()
	out := Outcome{State: s, Memory: m, Before: t.before, After: t.before}
	for _, r := range t.refused {
		switch {
		case step.Act == ActFound && r.Rule != RuleState:
			out.Broken = append(out.Broken, r)
		case granted(r):
			out.Overridden = append(out.Overridden, r)
		default:
			out.Refused = append(out.Refused, r)
		}
	}
	if len(out.Refused) > 0 {
		return out
	}
	t.settle()
	out.Memory, out.After = t.mem, t.after
	if t.d >= 0 {
		out.State = s.with(t.dev.ID, t.is[t.d])
	}
	out.Lost, out.Loads = t.lost()
	return out
}

// refuse notes a breach, with who may override it.
func (t *trial) refuse(r Refusal) {
	r.Authority = authority[r.Rule]
	if r.Device == "" {
		r.Device = t.dev.ID
	}
	t.refused = append(t.refused, r)
}

func (t *trial) misfit(w Why) { t.refuse(Refusal{Rule: RuleState, Why: w}) }

// act hands the step to what judges its act.
func (t *trial) act() {
	switch a := t.step.Act; {
	case slices.Contains(moves, a), a == ActLock, a == ActUnlock, a == ActPhased, a == ActFound:
		if t.takes() {
			t.onDevice()
		}
	case a == ActProveDead:
		t.proveDead()
	case a == ActDischarge:
		t.discharge()
	case a == ActIssue:
		t.issue()
	case a == ActClear:
		t.clear()
	case a == ActCancel:
		t.cancel()
	case a == ActKeyOut:
		t.keyOut()
	case a == ActKeyIn:
		t.keyIn()
	default:
		t.misfit(WhyUnknown)
	}
}

// takes finds the step's device, and tells whether the act fits it.
func (t *trial) takes() bool {
	d, ok := t.p.device[t.step.Device]
	if !ok {
		t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Device: t.step.Device})
		return false
	}
	t.d, t.dev = d, t.p.net.Devices[d]
	if !t.dev.Can(t.step.Act) {
		t.misfit(WhyCannot)
		return false
	}
	return true
}

// onDevice does what the act does to the device, then judges the state that would follow.
func (t *trial) onDevice() {
	switch t.step.Act {
	case ActLock:
		t.lock()
	case ActUnlock:
		t.unlock()
	case ActPhased:
		t.phase()
		return
	case ActFound:
		t.find()
	default:
		t.move()
	}
	t.after = t.p.look(t.is, t.mem, t.step.At)
	switch t.step.Act {
	case ActEarthOn:
		t.earthOn()
	case ActClose:
		t.closing()
		t.offLoad()
	case ActOpen:
		t.offLoad()
	case ActFound:
		t.ontoEarth()
	}
	t.underDocuments()
	t.loses()
}

// settle brings the memory up to the new state: what was charged, and which proofs and phasings lapse.
func (t *trial) settle() {
	// A discharge joins nothing, so it passes no charge on.
	if t.step.Act == ActDischarge || t.p.charge(t.is, t.mem) {
		t.after = t.p.look(t.is, t.mem, t.step.At)
	}
	t.after.Nodes = slices.Clone(t.after.Nodes)
	t.lapse()
	for i, n := range t.after.Nodes {
		t.after.Nodes[i].Proved = t.p.proved(t.mem, n.ID, t.step.At)
	}
}

// lost names the nodes that a supply no longer reaches, and their loads.
func (t *trial) lost() (nodes, loads []string) {
	for i, n := range t.p.net.Nodes {
		if len(t.before.Nodes[i].Supply) == 0 || len(t.after.Nodes[i].Supply) > 0 {
			continue
		}
		nodes = append(nodes, n.ID)
		if n.Load != "" {
			loads = append(loads, n.Load)
		}
	}
	return nodes, loads
}

// loses refuses to put a load out that the step does not name.
func (t *trial) loses() {
	nodes, loads := t.lost()
	loads = slices.DeleteFunc(loads, func(l string) bool { return slices.Contains(t.step.Drops, l) })
	if len(loads) > 0 {
		t.refuse(Refusal{Rule: RuleLoses, Nodes: nodes, Loads: loads})
	}
}
