package page

import (
	"os"
	"strings"
	"testing"

	"handback/checks/network"
	"handback/report/oneline"
)

// A board fed twice, one side withdrawn: an invented piece of plant.
func drawnPlant(t *testing.T) *oneline.Picture {
	t.Helper()
	closed, open := network.Standing{Pos: network.Closed, Place: network.Service}, network.Standing{Pos: network.Open, Place: network.Service}
	plant, err := network.New(network.Network{
		Nodes:   []network.Node{{ID: "bar"}, {ID: "t1"}, {ID: "t2"}, {ID: "a", Low: true}, {ID: "b", Low: true}},
		Sources: []network.Source{{ID: "grid", At: "bar"}},
		Devices: []network.Device{
			{ID: "q1", Kind: network.Switch, Between: []string{"bar", "t1"}, Normal: closed}, {ID: "q2", Kind: network.Switch, Between: []string{"bar", "t2"}, Normal: open},
			{ID: "x1", Kind: network.Transformer, Between: []string{"t1", "a"}, Normal: closed}, {ID: "x2", Kind: network.Transformer, Between: []string{"t2", "b"}, Normal: closed},
			{ID: "tie", Kind: network.Coupler, Between: []string{"a", "b"}, Normal: network.Standing{Pos: network.Open, Place: network.Withdrawn}},
			{ID: "e2", Kind: network.EarthSwitch, Between: []string{"t2"}, Normal: closed},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	s, m := plant.Start()
	p := oneline.Draw(plant.Network(), plant.Look(s, m, 0), s, oneline.Words{
		Named:  func(id string) string { return "plant " + id },
		Node:   func(n network.NodeView) string { return "live from " + strings.Join(n.Live, ", ") },
		Device: func(d network.Device, s network.Standing) string { return string(s.Pos) + ", " + string(s.Place) },
	})
	return &p
}

// Each state has a shape of its own, and its words beside it and in the description.
func TestOneLine(t *testing.T) {
	p := drawnPlant(t)
	picture := string(oneLine("x", "state of the plant", p))
	if n := len(attrs(t, picture, "bar-thick")); n != 3 { // bar, t1, a
		t.Errorf("%d live bars drawn", n)
	}
	if n := len(attrs(t, picture, "bar-thin")); n != 2 {
		t.Errorf("%d dead bars drawn", n)
	}
	if n := len(attrs(t, picture, "wire hollow")); n != 4 {
		t.Errorf("%d rings of two transformers", n)
	}
	for _, id := range []string{"bar", "t1", "t2", "a", "b", "q1", "q2", "x1", "x2", "tie", "e2"} {
		if strings.Count(picture, "plant "+id+"<") != 1 || !strings.Contains(picture, "plant "+id+": ") {
			t.Errorf("%s is not named in the picture and in its description", id)
		}
	}
	shape := map[oneline.Look]string{}
	for _, look := range []oneline.Look{oneline.Whole, oneline.Gap, oneline.Away, oneline.Dashed} {
		s := newSVG("x", 100, 100, "", "")
		s.symbol(network.Breaker, look, 50, 50, false)
		for other, drawn := range shape {
			if drawn == s.b.String() {
				t.Errorf("%s and %s are drawn alike", look, other)
			}
		}
		shape[look] = s.b.String()
	}
	if string(oneLine("x", "", nil)) != "" {
		t.Error("no network gives a picture")
	}
	if file := os.Getenv("ONELINE"); file != "" {
		os.WriteFile(file, []byte(picture), 0o644)
	}
}
