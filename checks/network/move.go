package network

import "slices"

// move judges whether the device can be moved, and how it would stand.
func (t *trial) move() {
	a, s := t.step.Act, t.was[t.d]
	if len(s.Locks) > 0 {
		var cure []Step
		for _, l := range s.Locks {
			cure = append(cure, Step{Act: ActUnlock, Device: t.dev.ID, Lock: l})
		}
		t.refuse(Refusal{Rule: RuleLocked, Locks: s.Locks, Cure: cure})
	}
	t.keyed()
	t.interlocked()
	to := s.Moved(a)
	if s.Pos == to.Pos && s.Place == to.Place {
		t.misfit(WhyAlready)
	}
	switch {
	case placed[a] != "" && !s.open():
		t.refuse(Refusal{Rule: RuleWithdrawn, Why: WhyRacking, Cure: []Step{{Act: ActOpen, Device: t.dev.ID}}})
	case a == ActClose && s.Place == Withdrawn:
		t.refuse(Refusal{Rule: RuleWithdrawn, Why: WhyClosing, Cure: []Step{{Act: ActService, Device: t.dev.ID}}})
	default:
		t.is[t.d] = to
	}
}

func (t *trial) lock() {
	s := t.was[t.d]
	switch {
	case t.step.Lock == "":
		t.misfit(WhyUnknown)
	case slices.Contains(s.Locks, t.step.Lock):
		t.misfit(WhyAlready)
	case s.unknown():
		t.misfit(WhyPosition)
	default:
		t.is[t.d] = s.locked(t.step.Lock)
	}
}

// unlock takes one lock off. The device is free when the last one is off.
func (t *trial) unlock() {
	if s := t.was[t.d]; slices.Contains(s.Locks, t.step.Lock) {
		t.is[t.d] = s.unlocked(t.step.Lock)
	} else {
		t.misfit(WhyUnknown)
	}
}

// find takes the standing that was found for what it is.
func (t *trial) find() {
	if t.step.Found == nil {
		t.misfit(WhyUnknown)
		return
	}
	s := *t.step.Found
	if (s.Place == Test || s.Place == Withdrawn) && !t.dev.Can(ActWithdraw) {
		t.misfit(WhyCannot)
		return
	}
	s.Locks = slices.Sorted(slices.Values(s.Locks))
	if s.Place == "" {
		s.Place = t.was[t.d].Place
	}
	t.is[t.d] = s
}

// interlocked refuses the act while another device does not stand as an interlock needs.
func (t *trial) interlocked() {
	for _, i := range t.p.net.Interlocks {
		if i.Device != t.dev.ID || i.Act != t.step.Act {
			continue
		}
		n := t.p.device[i.Needs.Device]
		other, s := t.p.net.Devices[n], t.was[n]
		if i.Needs.met(s) {
			continue
		}
		t.refuse(Refusal{Rule: RuleInterlock, Devices: []string{other.ID}, Cure: other.reach(i.Needs, s)})
		t.neverFor(t.dev, other)
	}
}

// neverFor makes the last refusal nobody's to override when one of the devices earths.
func (t *trial) neverFor(list ...Device) {
	if slices.ContainsFunc(list, Device.earths) {
		t.refused[len(t.refused)-1].Authority = Never
	}
}

// keyed refuses to move a device whose key is not in it.
func (t *trial) keyed() {
	for _, k := range t.p.net.Keys {
		at := t.old.Keys[k.ID]
		if _, mine := k.of(t.dev.ID); !mine || at == t.dev.ID {
			continue
		}
		r := Refusal{Rule: RuleKey, Why: WhyElsewhere, Key: k.ID}
		if at != InHand && at != "" {
			r.Devices = []string{at}
			r.Cure = []Step{{Act: ActKeyOut, Key: k.ID, Device: at}}
		}
		r.Cure = append(r.Cure, Step{Act: ActKeyIn, Key: k.ID, Device: t.dev.ID})
		t.refuse(r)
		t.neverFor(t.keyDevices(k)...)
	}
}

// keyDevices are the devices that a key works.
func (t *trial) keyDevices(k Key) []Device {
	var out []Device
	for _, c := range k.Free {
		out = append(out, t.p.net.Devices[t.p.device[c.Device]])
	}
	return out
}

// theKey finds the step's key and the condition under which it leaves the step's device.
func (t *trial) theKey() (Key, Condition, bool) {
	for _, k := range t.p.net.Keys {
		if k.ID != t.step.Key {
			continue
		}
		if c, ok := k.of(t.step.Device); ok {
			return k, c, true
		}
	}
	t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Key: t.step.Key, Device: t.step.Device})
	return Key{}, Condition{}, false
}

func (t *trial) keyOut() {
	k, free, ok := t.theKey()
	if !ok {
		return
	}
	d := t.p.device[t.step.Device]
	switch dev, s := t.p.net.Devices[d], t.was[d]; {
	case t.old.Keys[k.ID] != dev.ID:
		t.refuse(Refusal{Rule: RuleState, Why: WhyElsewhere, Key: k.ID, Device: dev.ID})
	case !free.met(s):
		t.refuse(Refusal{Rule: RuleKey, Why: WhyPosition, Key: k.ID, Device: dev.ID, Cure: dev.reach(free, s)})
		t.neverFor(t.keyDevices(k)...)
	}
	t.mem.Keys[k.ID] = InHand
}

func (t *trial) keyIn() {
	k, _, ok := t.theKey()
	if !ok {
		return
	}
	if t.old.Keys[k.ID] != InHand {
		t.refuse(Refusal{Rule: RuleState, Why: WhyElsewhere, Key: k.ID, Device: t.step.Device})
	}
	t.mem.Keys[k.ID] = t.step.Device
}
