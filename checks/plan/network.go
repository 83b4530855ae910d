package plan

import (
	"fmt"
	"strings"
	"time"

	"handback/checks/network"
	"handback/checks/quantity"
)

// Network is the drawing of the plant as a plan gives it: what its steps are judged by.
type Network struct {
	Drawing    string           `plan:"drawing" doc:"number and revision of the drawing this is taken from"`
	Nodes      []Node           `plan:"nodes,need" doc:"pieces of plant at one potential: bar sections, cables, the terminals of each side of a transformer"`
	Sources    []Source         `plan:"sources,need" doc:"what can make a node live: supplies and capacitors; a generator or UPS is a supply behind a machine"`
	Devices    []Device         `plan:"devices,need" doc:"what joins two nodes, or one node to earth"`
	Interlocks []Interlock      `plan:"interlocks" doc:"what an act on a device needs of another one"`
	Keys       []Key            `plan:"keys" doc:"keys of interlocks, trapped in one device or another"`
	Proved     *quantity.Second `plan:"proved_for,pos" doc:"how long a proof of dead counts towards an earth and a permit; 30 min when not given (our choice)"`
	Phased     *quantity.Second `plan:"phased_for,pos" doc:"how long phasing across an open device counts; 10 min when not given (our choice)"`
	End        []Ending         `plan:"end" doc:"devices that are to stand otherwise at the end than at the start"`
}

// Node is a piece of plant at one potential.
type Node struct {
	ID   string `plan:"id,need" doc:"short name used in steps"`
	Name string `plan:"name" doc:"what it is called on site"`
	Low  bool   `plan:"low" doc:"yes for plant up to 1 kV"`
	Load string `plan:"load" doc:"the load it carries, by name"`
}

// Source can make a node live.
type Source struct {
	ID      string `plan:"id,need" doc:"short name used in steps"`
	Name    string `plan:"name" doc:"what it is called on site"`
	At      string `plan:"at,need" doc:"node that it feeds"`
	Kind    string `plan:"kind" one:"supply|capacitor" doc:"supply or capacitor (a bank, a filter, a long cable); supply when not given"`
	Charged bool   `plan:"charged" doc:"yes for a capacitor that is charged at the start though no supply reaches it"`
}

// Device joins two nodes, or one node to earth.
type Device struct {
	ID        string   `plan:"id,need" doc:"short name used in steps"`
	Name      string   `plan:"name" doc:"what it is called on site"`
	Kind      string   `plan:"kind,need" one:"breaker|coupler|switch|isolator|link|machine|transformer|earth-switch|portable-earth" doc:"what it is; a machine is a source that can start, closed while it runs"`
	Between   []string `plan:"between,need" doc:"the two nodes it joins, of a transformer the high side first; the one node of an earth"`
	Isolates  *bool    `plan:"isolates" doc:"whether it is an isolating distance when open; a switch, isolator or link is, a breaker, coupler or machine is not, when not given"`
	Breaks    string   `plan:"breaks" one:"nothing|charging|load" doc:"the current it can make and break; nothing for an isolator or link, load for all others, when not given"`
	Withdraws *bool    `plan:"withdraws" doc:"whether it can be withdrawn; a breaker or coupler can, when not given"`
	BackFeed  bool     `plan:"back_feed" doc:"yes for a transformer that may be fed from its low side"`
	standing
}

// standing is how a device stands.
type standing struct {
	Position string   `plan:"position" one:"open|closed|unknown" doc:"where its contacts are; unknown when not given, closed for a transformer"`
	Place    string   `plan:"place" one:"service|test|withdrawn" doc:"where a device that withdraws is; service when not given"`
	Locks    []string `plan:"locks" doc:"numbers of the locks on it"`
}

// Condition is what an interlock needs, or what frees a key.
type Condition struct {
	Device   string `plan:"device,need" doc:"the device"`
	Position string `plan:"position" one:"open|closed" doc:"where its contacts must be"`
	Place    string `plan:"place" one:"service|test|withdrawn" doc:"where it must be"`
}

// Interlock forbids an act on a device until another one stands as needed.
type Interlock struct {
	Device string    `plan:"device,need" doc:"the device that does not move"`
	Act    string    `plan:"act,need" one:"open|close|withdraw|test-place|put-in-service|earth-on|earth-off" doc:"the act that is forbidden"`
	Needs  Condition `plan:"needs,need" doc:"how another device must stand"`
}

// Key is trapped in one device or another.
type Key struct {
	ID   string      `plan:"id,need" doc:"number or name on it"`
	Home string      `plan:"home,need" doc:"the device it is in at the start"`
	Free []Condition `plan:"free,need" doc:"of each device that takes it, how it must stand for the key to come out"`
}

// Ending is how a device is to stand at the end.
type Ending struct {
	Device string `plan:"device,need" doc:"the device"`
	standing
}

func (s standing) normal() network.Standing {
	place := network.Place(s.Place)
	if place == "" {
		place = network.Service
	}
	return network.Standing{Pos: network.Position(s.Position), Place: place, Locks: s.Locks}
}

func (c Condition) met() network.Condition {
	return network.Condition{Device: c.Device, Pos: network.Position(c.Position), Place: network.Place(c.Place)}
}

// laid is the drawing as package network takes it.
func (w *Network) laid() network.Network {
	var out network.Network
	for _, x := range w.Nodes {
		out.Nodes = append(out.Nodes, network.Node{ID: x.ID, Low: x.Low, Load: x.Load})
	}
	for _, x := range w.Sources {
		kind := network.SourceKind(x.Kind)
		if kind == "" {
			kind = network.Supply
		}
		out.Sources = append(out.Sources, network.Source{ID: x.ID, At: x.At, Kind: kind, Charged: x.Charged})
	}
	for _, x := range w.Devices {
		d := network.Device{ID: x.ID, Kind: network.Kind(x.Kind), Between: x.Between, Isolates: x.Isolates, Breaks: network.Break(x.Breaks),
			Withdraws: x.Withdraws, BackFeed: x.BackFeed, Normal: x.normal()}
		if d.Kind == network.Transformer && d.Normal.Pos == "" {
			d.Normal.Pos = network.Closed
		}
		out.Devices = append(out.Devices, d)
	}
	for _, x := range w.Interlocks {
		out.Interlocks = append(out.Interlocks, network.Interlock{Device: x.Device, Act: network.Act(x.Act), Needs: x.Needs.met()})
	}
	for _, x := range w.Keys {
		k := network.Key{ID: x.ID, Home: x.Home}
		for _, c := range x.Free {
			k.Free = append(k.Free, c.met())
		}
		out.Keys = append(out.Keys, k)
	}
	for to, from := range map[*time.Duration]*quantity.Second{&out.Life.Proved: w.Proved, &out.Life.Phased: w.Phased} {
		*to, _ = since(from)
	}
	return out
}

// network lays out the drawing of a plan and notes what is wrong in it.
func (n *Notes) network(p *Plan) {
	if p.Network == nil {
		return
	}
	plant, wrong := network.New(p.Network.laid())
	keys := strings.NewReplacer(".normal", "", ".pos", ".position", "life.proved", "proved_for", "life.phased", "phased_for")
	for _, q := range wrong {
		n.At(Join("network", keys.Replace(q.Path)), "%s: accepted is %s", q.Met, q.Accepted)
	}
	for i, e := range p.Network.End {
		path := fmt.Sprintf("network.end[%d]", i+1)
		if p.Network.Device(e.Device) == nil {
			n.At(path+".device", "no device %q%s", e.Device, Nearest(e.Device, IDsOf(p.Network.Devices, func(d Device) string { return d.ID })))
		}
		if e.Position == "" && e.Place == "" && e.Locks == nil {
			n.At(path, "neither position nor place nor locks: say how %s is to stand", e.Device)
		}
	}
	p.grid = plant
}

// Grid is the network of a plan laid out, nil for a plan without one.
func (p *Plan) Grid() *network.Plant { return p.grid }

// Ends is how devices are to stand at the end: those that the plan names.
func (p *Plan) Ends() network.State {
	out := network.State{}
	for _, e := range p.Network.End {
		out[e.Device] = network.Standing{Pos: network.Position(e.Position), Place: network.Place(e.Place), Locks: e.Locks}
	}
	return out
}

// Device finds a device by id, nil when there is none.
func (w *Network) Device(id string) *Device {
	return find(w.Devices, id, func(d *Device) string { return d.ID })
}

// Named is what a node, source or device of the network is called on site: its name, or its id.
func (w *Network) Named(id string) string {
	if x := find(w.Nodes, id, func(x *Node) string { return x.ID }); x != nil && x.Name != "" {
		return x.Name
	}
	if x := find(w.Sources, id, func(x *Source) string { return x.ID }); x != nil && x.Name != "" {
		return x.Name
	}
	if x := w.Device(id); x != nil && x.Name != "" {
		return x.Name
	}
	return id
}
