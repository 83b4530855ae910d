package oneline

import (
	"compress/gzip"
	"encoding/json"
	"os"
	"testing"

	"handback/checks/network"
)

func station() network.Network {
	node := func(ids ...string) (out []network.Node) {
		for _, id := range ids {
			out = append(out, network.Node{ID: id})
		}
		return out
	}
	dev := func(id string, kind network.Kind, between ...string) network.Device {
		return network.Device{ID: id, Kind: kind, Between: between}
	}
	return network.Network{
		Nodes:   node("hv", "t1-hv", "t2-hv", "t1-lv", "t2-lv", "a", "b"),
		Sources: []network.Source{{ID: "grid", At: "hv", Kind: network.Supply}},
		Devices: []network.Device{
			dev("q1", network.Switch, "hv", "t1-hv"), dev("q2", network.Switch, "t2-hv", "hv"),
			dev("t1", network.Transformer, "t1-hv", "t1-lv"), dev("t2", network.Transformer, "t2-hv", "t2-lv"),
			dev("inc1", network.Breaker, "t1-lv", "a"), dev("inc2", network.Breaker, "t2-lv", "b"),
			dev("tie", network.Coupler, "b", "a"), dev("es2", network.EarthSwitch, "t2-hv"),
		},
	}
}

// By hand: a column for each transformer, one for the earth beside T2, one for the coupler
// between the sections, which only the 11 kV bar spans.
func TestOf(t *testing.T) {
	d := Of(station())
	want := map[string][3]int{"hv": {0, 0, 3}, "t1-hv": {1, 0, 0}, "t1-lv": {2, 0, 0}, "a": {3, 0, 0}, "t2-hv": {1, 2, 3}, "t2-lv": {2, 2, 2}, "b": {3, 2, 2}}
	for _, b := range d.Bars {
		w := want[b.Node]
		if [3]int{b.Level, b.Left, b.Right} != w {
			t.Errorf("bar %+v, want %v", b, w)
		}
	}
	if d.Levels != 4 || d.Columns != 4 {
		t.Errorf("%d levels, %d columns", d.Levels, d.Columns)
	}
	for _, k := range d.Links {
		switch k.Device {
		case "q2":
			if d.Bars[k.Upper].Node != "hv" || d.Bars[k.Lower].Node != "t2-hv" || k.Column != 2 {
				t.Errorf("q2 %+v", k)
			}
		case "tie":
			if !k.Beside || !k.Next || d.Bars[k.Upper].Node != "a" || k.Column != 1 {
				t.Errorf("tie %+v", k)
			}
		case "es2":
			if k.Lower != -1 || k.Column != 3 {
				t.Errorf("es2 %+v", k)
			}
		}
	}
}

// Whatever the network: every bar has columns of its own on its level, and a link hangs
// under its upper bar's level and over its lower bar's columns. Networks: drawn at random
// by the reference program of package network (testdata/network).
func TestOf_anyNetwork(t *testing.T) {
	nets := referenceNetworks(t)
	if len(nets) < 20 {
		t.Fatalf("%d networks", len(nets))
	}
	for i, n := range nets {
		d := Of(n)
		taken := map[[2]int]string{}
		for _, b := range d.Bars {
			if b.Left < 0 || b.Right < b.Left || b.Right >= d.Columns || b.Level < 0 || b.Level >= d.Levels {
				t.Errorf("network %d: bar %+v of %d columns, %d levels", i, b, d.Columns, d.Levels)
			}
			for c := b.Left; c <= b.Right; c++ {
				if other := taken[[2]int{b.Level, c}]; other != "" {
					t.Errorf("network %d: %s and %s share column %d", i, other, b.Node, c)
				}
				taken[[2]int{b.Level, c}] = b.Node
			}
		}
		hung := map[[3]int]string{}
		for _, k := range d.Links {
			if len(n.Devices) != len(d.Links) || k.Column < 0 || k.Column >= d.Columns {
				t.Errorf("network %d: link %+v", i, k)
			}
			if !k.Beside && k.Lower >= 0 && (d.Bars[k.Lower].Level != d.Bars[k.Upper].Level+1 || k.Column < d.Bars[k.Lower].Left || k.Column > d.Bars[k.Lower].Right) {
				t.Errorf("network %d: link %+v between %+v and %+v", i, k, d.Bars[k.Upper], d.Bars[k.Lower])
			}
			if k.Beside && !k.Next {
				continue // runs below, in the order of the links
			}
			at := [3]int{d.Bars[k.Upper].Level, k.Column, map[bool]int{true: 1}[k.Beside]}
			if hung[at] != "" {
				t.Errorf("network %d: %s and %s hang in one place", i, hung[at], k.Device)
			}
			hung[at] = k.Device
		}
	}
}

func referenceNetworks(t *testing.T) []network.Network {
	t.Helper()
	f, err := os.Open("../../testdata/network/plant_cases.json.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Network struct {
			Nodes   []string
			Sources []network.Source
			Devices []network.Device
		}
	}
	if err := json.NewDecoder(z).Decode(&cases); err != nil {
		t.Fatal(err)
	}
	var out []network.Network
	for _, c := range cases {
		n := network.Network{Sources: c.Network.Sources, Devices: c.Network.Devices}
		for _, id := range c.Network.Nodes {
			n.Nodes = append(n.Nodes, network.Node{ID: id})
		}
		out = append(out, n)
	}
	return out
}
