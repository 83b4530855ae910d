package network

import (
	"slices"
	"time"
)

// Act is what a step does.
type Act string

// The acts. The first group moves a device.
const (
	ActOpen      Act = "open"
	ActClose     Act = "close"
	ActWithdraw  Act = "withdraw"
	ActTestPlace Act = "test-place"
	ActService   Act = "put-in-service"
	ActEarthOn   Act = "earth-on"
	ActEarthOff  Act = "earth-off"

	ActLock      Act = "lock"
	ActUnlock    Act = "unlock"
	ActPhased    Act = "phasing-passed"
	ActFound     Act = "found" // what happened or was seen, a trip among it: recorded, never refused
	ActProveDead Act = "prove-dead"
	ActDischarge Act = "discharge"
	ActIssue     Act = "issue"
	ActClear     Act = "clear"
	ActCancel    Act = "cancel"
	ActKeyOut    Act = "key-out"
	ActKeyIn     Act = "key-in"
)

// moves lists the acts that move a device.
var moves = []Act{ActOpen, ActClose, ActWithdraw, ActTestPlace, ActService, ActEarthOn, ActEarthOff}

// placed is the place that an act of racking leads to.
var placed = map[Act]Place{ActWithdraw: Withdrawn, ActTestPlace: Test, ActService: Service}

// Can tells whether an act on a device fits what the device is.
func (d Device) Can(a Act) bool {
	switch a {
	case ActOpen, ActClose, ActPhased:
		return !d.earths() && !d.transformer()
	case ActWithdraw, ActTestPlace, ActService:
		return d.withdraws() && !d.earths() && !d.transformer()
	case ActEarthOn, ActEarthOff:
		return d.earths()
	case ActLock, ActUnlock, ActFound:
		return !d.transformer()
	}
	return false
}

// Step is one act. Which fields count hangs on the act.
type Step struct {
	Act      Act           `json:"act"`
	At       time.Duration `json:"at"`              // since the start of the plan
	Timed    bool          `json:"timed,omitempty"` // At is planned: asked by Play alone
	By       string        `json:"by,omitempty"`    // who proved or phased
	Device   string        `json:"device,omitempty"`
	Node     string        `json:"node,omitempty"`     // prove-dead
	Source   string        `json:"source,omitempty"`   // discharge
	Lock     string        `json:"lock,omitempty"`     // lock, unlock
	Key      string        `json:"key,omitempty"`      // key-out of the device, key-in to it
	Document string        `json:"document,omitempty"` // issue, clear, cancel
	Type     DocumentType  `json:"type,omitempty"`     // issue
	Nodes    []string      `json:"nodes,omitempty"`    // issue
	Found    *Standing     `json:"found,omitempty"`    // found
	Drops    []string      `json:"drops,omitempty"`    // loads that the step means to lose

	Leave     []Rule     `json:"leave,omitempty"`     // rules that the plan lets somebody override at this step
	Overrides []Override `json:"overrides,omitempty"` // who did, and why
}

// isolate gives the acts that make a device a locked gap: what is lacking of open, withdrawn and locked.
func (d Device) isolate(s Standing) []Step {
	var out []Step
	if !s.open() {
		out = append(out, Step{Act: ActOpen, Device: d.ID})
	}
	if !d.isolates() && d.withdraws() && s.Place != Withdrawn {
		out = append(out, Step{Act: ActWithdraw, Device: d.ID})
	}
	if len(s.Locks) == 0 {
		out = append(out, Step{Act: ActLock, Device: d.ID})
	}
	return out
}

// reach gives the act that brings a device to a position or place that something needs.
func (d Device) reach(c Condition, s Standing) []Step {
	var out []Step
	for _, a := range moves {
		if !d.Can(a) || placed[a] != "" && (placed[a] != c.Place || s.Place == c.Place) {
			continue
		}
		to := s.Moved(a).Pos
		if placed[a] == "" && (to != c.Pos || s.Pos == c.Pos) {
			continue
		}
		out = append(out, Step{Act: a, Device: d.ID})
	}
	return out
}

// Moved is the standing after an act that moves a device, whatever the rules say of it.
func (s Standing) Moved(a Act) Standing {
	switch a {
	case ActClose, ActEarthOn:
		s.Pos = Closed
	case ActOpen, ActEarthOff:
		s.Pos = Open
	default:
		s.Place = placed[a]
	}
	return s
}

// locked is the standing with one lock more, unlocked with one less.
func (s Standing) locked(lock string) Standing {
	s.Locks = slices.Sorted(slices.Values(append(slices.Clone(s.Locks), lock)))
	return s
}

func (s Standing) unlocked(lock string) Standing {
	s.Locks = slices.DeleteFunc(slices.Clone(s.Locks), func(l string) bool { return l == lock })
	return s
}
