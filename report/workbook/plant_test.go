package workbook

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"handback/checks/network"
	"handback/report"
	"handback/report/grid"
	"handback/report/oneline"
)

// Every bar and device stands on the sheet once, with its state in words, and framed as
// no other state is.
func TestPlant(t *testing.T) {
	closed, open := network.Standing{Pos: network.Closed, Place: network.Service}, network.Standing{Pos: network.Open, Place: network.Service}
	plant, err := network.New(network.Network{
		Nodes:   []network.Node{{ID: "bar"}, {ID: "a"}, {ID: "b"}},
		Sources: []network.Source{{ID: "grid", At: "bar"}},
		Devices: []network.Device{
			{ID: "q1", Kind: network.Switch, Between: []string{"bar", "a"}, Normal: closed}, {ID: "q2", Kind: network.Switch, Between: []string{"bar", "b"}, Normal: open},
			{ID: "tie", Kind: network.Coupler, Between: []string{"a", "b"}, Normal: network.Standing{Pos: network.Open, Place: network.Withdrawn}},
			{ID: "e", Kind: network.PortableEarth, Between: []string{"b"}, Normal: open},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	s, m := plant.Start()
	p := oneline.Draw(plant.Network(), plant.Look(s, m, 0), s, oneline.Words{
		Named:  func(id string) string { return "plant " + id },
		Node:   func(n network.NodeView) string { return fmt.Sprint(len(n.Live), " sources") },
		Device: func(_ network.Device, s network.Standing) string { return string(s.Pos) },
	})
	b := &book{Book: grid.NewBook("x", "x", time.Time{}), doc: &report.Document{Job: "x-1", Picture: &p}}
	log := b.Sheet("Log")
	b.log(log)
	var cells []string
	for i := range log.Rows {
		for _, c := range log.Boxes(i + 1) {
			cells = append(cells, fmt.Sprint(c.Value))
		}
	}
	all := strings.Join(cells, "\n") + "\n"
	for _, want := range []string{"plant bar: 1 sources", "plant a: 1 sources", "plant b: 0 sources", "plant q1 (plant bar to plant a): closed", "plant q2 (plant bar to plant b): open", "plant tie (plant a to plant b): open", "plant e: open"} {
		if strings.Count(all, want+"\n") != 1 {
			t.Errorf("%q does not stand once in\n%s", want, all)
		}
	}
	seen := map[string]bool{}
	for _, look := range []oneline.Look{oneline.Whole, oneline.Gap, oneline.Away} {
		border := plantLooks[look].Border
		if border == "" || seen[border] {
			t.Errorf("%s is framed %q, as another state", look, border)
		}
		seen[border] = true
	}
	if b.plantSheet() != nil {
		t.Error("what the log has room for has a sheet of its own too")
	}
	p.Columns = logColumns
	if b.plantSheet() == nil {
		t.Error("what the log has no room for has no sheet")
	}
	none := &book{Book: b.Book, doc: &report.Document{}}
	none.log(b.Sheet("Log"))
	if none.plantSheet() != nil {
		t.Error("a plan without a network has a sheet of it")
	}
}
