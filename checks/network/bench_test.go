package network

import (
	"fmt"
	"testing"
	"time"
)

// ring is a large plant: stations on a ring of cables, each with a bar section, a transformer, a board of feeders and an earth at every node.
func ring(stations, feeders int) Network {
	n := Network{Sources: []Source{{ID: "grid", At: "bar0"}}}
	shut := Standing{Pos: Closed, Place: Service}
	out := Standing{Pos: Open, Place: Service}
	node := func(id string, low bool) {
		n.Nodes = append(n.Nodes, Node{ID: id, Low: low})
		n.Devices = append(n.Devices, Device{ID: "earth-" + id, Kind: EarthSwitch, Between: []string{id}, Normal: out})
	}
	for i := range stations {
		at := func(what string) string { return fmt.Sprint(what, i) }
		node(at("bar"), false)
		node(at("high"), false)
		node(at("low"), true)
		node(at("board"), true)
		n.Devices = append(n.Devices,
			Device{ID: at("way"), Kind: Switch, Between: []string{at("bar"), fmt.Sprint("bar", (i+1)%stations)}, Normal: shut},
			Device{ID: at("hv"), Kind: Switch, Between: []string{at("bar"), at("high")}, Normal: shut},
			Device{ID: at("T"), Kind: Transformer, Between: []string{at("high"), at("low")}},
			Device{ID: at("lv"), Kind: Breaker, Between: []string{at("low"), at("board")}, Normal: shut})
		for f := range feeders {
			id := fmt.Sprintf("feeder%d-%d", i, f)
			n.Nodes = append(n.Nodes, Node{ID: id, Low: true, Load: id})
			n.Devices = append(n.Devices, Device{ID: "q-" + id, Kind: Breaker, Between: []string{at("board"), id}, Normal: shut})
		}
	}
	return n
}

// schedule takes one station after the other off, makes it safe, issues a permit and comes back, and opens and closes the ring there.
func schedule(stations, feeders int) []Step {
	var out []Step
	add := func(s Step) {
		s.At, s.Timed = time.Duration(len(out))*time.Minute, true
		out = append(out, s)
	}
	for i := range stations {
		at := func(what string) string { return fmt.Sprint(what, i) }
		var loads []string
		for f := range feeders {
			loads = append(loads, fmt.Sprintf("feeder%d-%d", i, f))
		}
		add(Step{Act: ActOpen, Device: at("lv"), Drops: loads})
		add(Step{Act: ActOpen, Device: at("hv")})
		add(Step{Act: ActWithdraw, Device: at("lv")})
		add(Step{Act: ActLock, Device: at("hv"), Lock: at("1-")})
		add(Step{Act: ActLock, Device: at("lv"), Lock: at("2-")})
		add(Step{Act: ActProveDead, Node: at("high")})
		add(Step{Act: ActEarthOn, Device: "earth-" + at("high")})
		add(Step{Act: ActIssue, Document: at("P"), Type: Permit, Nodes: []string{at("high")}})
		add(Step{Act: ActClear, Document: at("P")})
		add(Step{Act: ActCancel, Document: at("P")})
		add(Step{Act: ActEarthOff, Device: "earth-" + at("high")})
		add(Step{Act: ActUnlock, Device: at("hv"), Lock: at("1-")})
		add(Step{Act: ActUnlock, Device: at("lv"), Lock: at("2-")})
		add(Step{Act: ActService, Device: at("lv")})
		add(Step{Act: ActClose, Device: at("hv")})
		add(Step{Act: ActClose, Device: at("lv")})
		add(Step{Act: ActOpen, Device: at("way")})
		add(Step{Act: ActPhased, Device: at("way")})
		add(Step{Act: ActClose, Device: at("way")})
	}
	return out
}

// The schedule goes through and leaves nothing over.
func TestPlay_ring(t *testing.T) {
	p, found := New(ring(16, 24))
	if found != nil {
		t.Fatal(found)
	}
	steps := schedule(16, 24)
	if devices := len(p.net.Devices); devices < 500 || len(steps) < 300 {
		t.Fatalf("%d devices and %d steps: that is no large plant", devices, len(steps))
	}
	s, m := p.Start()
	run := p.Play(s, m, steps, nil)
	for _, l := range run.Lines {
		if len(l.Refused) > 0 {
			t.Errorf("step %d, %s %s: %v", l.Step, steps[l.Step-1].Act, steps[l.Step-1].Device, rules(l.Refused))
		}
	}
	if len(run.Left) > 0 {
		t.Errorf("left over: %+v", run.Left)
	}
}

func BenchmarkPlay(b *testing.B) {
	for name, start := range map[string]Position{"as it stands": "", "all open": Open} {
		b.Run(name, func(b *testing.B) {
			n := ring(16, 24)
			for i, d := range n.Devices {
				if start != "" && d.Kind != Transformer {
					n.Devices[i].Normal.Pos = start
				}
			}
			p, found := New(n)
			if found != nil {
				b.Fatal(found)
			}
			s, m := p.Start()
			steps := schedule(16, 24)
			for b.Loop() {
				p.Play(s, m, steps, nil)
			}
		})
	}
}
