package network

import (
	"slices"
	"time"
)

// Network is the drawing of a plant, as its plan gives it.
type Network struct {
	Nodes      []Node      `json:"nodes"`
	Sources    []Source    `json:"sources"`
	Devices    []Device    `json:"devices"`
	Interlocks []Interlock `json:"interlocks,omitempty"`
	Keys       []Key       `json:"keys,omitempty"`
	Life       Life        `json:"life"`
}

// Node is a piece of plant at one potential.
type Node struct {
	ID   string `json:"id"`
	Low  bool   `json:"low,omitempty"`  // up to 1 kV
	Load string `json:"load,omitempty"` // name of the load it carries, "" for none
}

// SourceKind is what a source is. What is no capacitor is a supply.
type SourceKind string

// The kinds of source. A generator or a UPS is a supply behind a Machine.
const (
	Supply    SourceKind = "supply"
	Capacitor SourceKind = "capacitor" // a bank, a filter, a long cable
)

// Source can make a node live.
type Source struct {
	ID      string     `json:"id"`
	At      string     `json:"at"` // node
	Kind    SourceKind `json:"kind"`
	Charged bool       `json:"charged,omitempty"` // a capacitor that is charged at the start though no supply reaches it
}

// Kind is what a device is.
type Kind string

// The kinds of device.
const (
	Breaker       Kind = "breaker"
	Coupler       Kind = "coupler"
	Switch        Kind = "switch"
	Isolator      Kind = "isolator"
	Link          Kind = "link"
	Machine       Kind = "machine"     // a source that can start: closed when it runs
	Transformer   Kind = "transformer" // between its high side and its low side, in that order
	EarthSwitch   Kind = "earth-switch"
	PortableEarth Kind = "portable-earth"
)

var kinds = []Kind{Breaker, Coupler, Switch, Isolator, Link, Machine, Transformer, EarthSwitch, PortableEarth}

// Break is the current a device can make and break.
type Break string

// What a device breaks. An isolator or a link breaks nothing unless the plan says so; all others break load.
const (
	BreaksNothing  Break = "nothing"
	BreaksCharging Break = "charging"
	BreaksLoad     Break = "load"
)

// Device joins two nodes, or one node to earth.
type Device struct {
	ID        string   `json:"id"`
	Kind      Kind     `json:"kind"`
	Between   []string `json:"between"`             // nodes: one of an earth, two of all others
	Isolates  *bool    `json:"isolates,omitempty"`  // it is a gap when open; nil: as its kind
	Breaks    Break    `json:"breaks,omitempty"`    // "": as its kind
	Withdraws *bool    `json:"withdraws,omitempty"` // nil: as its kind
	BackFeed  bool     `json:"back_feed,omitempty"` // a transformer that may be fed from its low side
	Normal    Standing `json:"normal"`              // at the start
}

func (d Device) earths() bool      { return d.Kind == EarthSwitch || d.Kind == PortableEarth }
func (d Device) transformer() bool { return d.Kind == Transformer }

func (d Device) isolates() bool {
	if d.Isolates != nil {
		return *d.Isolates
	}
	return slices.Contains([]Kind{Switch, Isolator, Link}, d.Kind)
}

func (d Device) withdraws() bool {
	if d.Withdraws != nil {
		return *d.Withdraws
	}
	return d.Kind == Breaker || d.Kind == Coupler
}

func (d Device) breaks() Break {
	switch {
	case d.Breaks != "":
		return d.Breaks
	case d.Kind == Isolator || d.Kind == Link:
		return BreaksNothing
	}
	return BreaksLoad
}

// Condition is a standing that something needs: of the device named, its position, its place or both.
type Condition struct {
	Device string   `json:"device"`
	Pos    Position `json:"pos,omitempty"`
	Place  Place    `json:"place,omitempty"`
}

func (c Condition) met(s Standing) bool {
	return (c.Pos == "" || c.Pos == s.Pos) && (c.Place == "" || c.Place == s.Place)
}

// Interlock forbids an act on a device until another device stands as needed.
type Interlock struct {
	Device string    `json:"device"`
	Act    Act       `json:"act"`
	Needs  Condition `json:"needs"`
}

// Key is trapped in one device or another and comes out of each only in the standing that frees it. A device moves only with its key in.
type Key struct {
	ID   string      `json:"id"`
	Home string      `json:"home"` // device it is in at the start
	Free []Condition `json:"free"` // one for each device that takes it
}

// of finds the condition under which the key leaves a device.
func (k Key) of(device string) (Condition, bool) {
	i := slices.IndexFunc(k.Free, func(c Condition) bool { return c.Device == device })
	if i < 0 {
		return Condition{}, false
	}
	return k.Free[i], true
}

// Life says how long what was found stays good.
type Life struct {
	Proved time.Duration `json:"proved,omitempty"` // zero: 30 minutes, our choice
	Phased time.Duration `json:"phased,omitempty"` // zero: 10 minutes, our choice
}

const (
	provedFor = 30 * time.Minute
	phasedFor = 10 * time.Minute
)

// holds tells whether a thing found at one time is still good at another. A thing found later than now is not: one of the clocks is wrong.
func holds(found, now, given, usual time.Duration) bool {
	if given == 0 {
		given = usual
	}
	return found <= now && now-found <= given
}
