package network

import (
	"maps"
	"slices"
	"time"
)

// Position is where the contacts of a device are. Whatever is neither open nor closed is unknown, the zero value too.
type Position string

// The positions.
const (
	Open    Position = "open"
	Closed  Position = "closed"
	Unknown Position = "unknown"
)

// Place is where a withdrawable device is. The zero value is a place nobody recorded: it may carry and is no gap.
type Place string

// The places. The test place is no gap.
const (
	Service   Place = "service"
	Test      Place = "test"
	Withdrawn Place = "withdrawn"
)

// Standing is how one device stands.
type Standing struct {
	Pos   Position `json:"pos"`
	Place Place    `json:"place"`
	Locks []string `json:"locks,omitempty"`
}

func (s Standing) open() bool    { return s.Pos == Open }
func (s Standing) closed() bool  { return s.Pos == Closed }
func (s Standing) unknown() bool { return !s.open() && !s.closed() }

// carries is the certain reading, mayCarry the pessimistic one.
func (d Device) carries(s Standing) bool {
	return d.transformer() || s.closed() && s.Place == Service
}

func (d Device) mayCarry(s Standing) bool {
	return d.transformer() || !s.open() && s.Place != Test && s.Place != Withdrawn
}

func (d Device) gap(s Standing) bool {
	return !d.transformer() && !d.earths() && (s.Place == Withdrawn || s.open() && d.isolates())
}

func (d Device) secured(s Standing) bool { return d.gap(s) && len(s.Locks) > 0 }

// State is the standing of each device by its name. A device that is missing stands nobody knows how.
type State map[string]Standing

// with is the state with one device standing otherwise.
func (s State) with(device string, now Standing) State {
	out := maps.Clone(s)
	if out == nil {
		out = State{}
	}
	out[device] = now
	return out
}

// Proof says that a node was proved dead. It ends when the node may be live, loses its isolation, is joined to more plant, loses its earths, or
// when its minutes have passed. A lock or a second gap does not end it.
type Proof struct {
	At time.Duration `json:"at"`
	By string        `json:"by,omitempty"`
}

// Phasing says that the sides of an open device were found to be the same phases. It ends when a side is no longer live from the same supplies,
// or when its minutes have passed.
type Phasing struct {
	At       time.Duration `json:"at"`
	By       string        `json:"by,omitempty"`
	Supplies [2][]string   `json:"supplies"` // of each side
}

// DocumentType is what a document allows.
type DocumentType string

// A permit is for work on dead plant: nothing it names may change. Under a sanction for test, earths may come off and go on.
const (
	Permit       DocumentType = "permit"
	TestSanction DocumentType = "test"
)

// Document is a safety document in force. Its points of isolation and its earths are those that stood when it was issued.
type Document struct {
	Type    DocumentType `json:"type"`
	Nodes   []string     `json:"nodes"`
	Points  []string     `json:"points"`
	Earths  []string     `json:"earths"`
	Cleared bool         `json:"cleared"` // by its holder; it stays in force until its issuer cancels it
}

// InHand is where a key is that is in no device.
const InHand = "hand"

// Memory is what the steps left behind beside the standing of devices.
type Memory struct {
	Proofs    map[string]Proof    `json:"proofs"`    // by node
	Phasings  map[string]Phasing  `json:"phasings"`  // by device
	Documents map[string]Document `json:"documents"` // by number
	Keys      map[string]string   `json:"keys"`      // a device, or InHand
	Charged   map[string]bool     `json:"charged"`   // by capacitor
}

// clone is a memory of its own. What an entry holds is never changed in place, so it may be shared.
func (m Memory) clone() Memory {
	out := Memory{Proofs: map[string]Proof{}, Phasings: map[string]Phasing{}, Documents: map[string]Document{}, Keys: map[string]string{}, Charged: map[string]bool{}}
	maps.Copy(out.Proofs, m.Proofs)
	maps.Copy(out.Phasings, m.Phasings)
	maps.Copy(out.Documents, m.Documents)
	maps.Copy(out.Keys, m.Keys)
	maps.Copy(out.Charged, m.Charged)
	return out
}

// Start is the state and memory before the first step: devices in their normal standing, keys at home, capacitors charged that a supply may reach.
func (p *Plant) Start() (State, Memory) {
	s := State{}
	for _, d := range p.net.Devices {
		n := d.Normal
		if d.transformer() {
			n = Standing{Pos: Closed}
		}
		if n.unknown() {
			n.Pos = Unknown
		}
		if n.Place == "" {
			n.Place = Service
		}
		n.Locks = slices.Sorted(slices.Values(n.Locks))
		s[d.ID] = n
	}
	m := Memory{}.clone()
	for _, k := range p.net.Keys {
		m.Keys[k.ID] = k.Home
	}
	for _, c := range p.net.Sources {
		if c.Charged {
			m.Charged[c.ID] = true
		}
	}
	p.charge(p.frame(s), m)
	return s, m
}
