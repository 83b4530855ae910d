package network

import (
	"fmt"
	"strings"
	"testing"
)

var yes = true

// mistakes spoils the station with interlocks in one way each; want is the path and what is met there.
var mistakes = map[string]struct {
	spoil func(*Network)
	want  string
}{
	"no nodes":               {func(n *Network) { *n = Network{} }, "nodes: none"},
	"a node twice":           {func(n *Network) { n.Nodes[1].ID = "f1" }, "nodes[2].id: f1 twice"},
	"a node without a name":  {func(n *Network) { n.Nodes[1].ID = "" }, "nodes[2].id: empty"},
	"a device twice":         {func(n *Network) { n.Devices[1].ID = "q1h" }, "devices[2].id: q1h twice"},
	"a device called hand":   {func(n *Network) { n.Devices[0].ID = InHand }, "devices[1].id: hand"},
	"a kind unknown":         {func(n *Network) { n.Devices[0].Kind = "fuse" }, `devices[1].kind: "fuse"`},
	"an unknown node":        {func(n *Network) { n.Devices[0].Between[1] = "x" }, `devices[1].between[2]: unknown node "x"`},
	"a one-sided trafo":      {func(n *Network) { n.Devices[1].Between = []string{"t1h"} }, "devices[2].between: 1 nodes at a device of kind transformer"},
	"an earth of two ends":   {func(n *Network) { n.Devices[7].Between = []string{"t1h", "t1l"} }, "devices[8].between: 2 nodes at a device of kind earth-switch"},
	"both ends one node":     {func(n *Network) { n.Devices[3].Between = []string{"A", "A"} }, "devices[4].between: the same node twice"},
	"a transformer reversed": {func(n *Network) { n.Devices[1].Between = []string{"t1l", "t1h"} }, "devices[2].between: low side above 1 kV, high side up to 1 kV"},
	"a breaker across 1 kV":  {func(n *Network) { n.Devices[2].Between = []string{"t1h", "A"} }, "devices[3].between: one side above 1 kV, one up to 1 kV"},
	"an earth that isolates": {func(n *Network) { n.Devices[7].Isolates = &yes }, "devices[8].isolates: earth-switch"},
	"a trafo that withdraws": {func(n *Network) { n.Devices[1].Withdraws = &yes }, "devices[2].withdraws: transformer"},
	"a trafo that breaks":    {func(n *Network) { n.Devices[1].Breaks = BreaksLoad }, "devices[2].breaks: transformer"},
	"breaks what":            {func(n *Network) { n.Devices[0].Breaks = "some" }, "devices[1].breaks: some"},
	"a switch back-feeds":    {func(n *Network) { n.Devices[0].BackFeed = true }, "devices[1].back_feed: switch"},
	"an open transformer":    {func(n *Network) { n.Devices[1].Normal.Pos = Open }, "devices[2].normal: a transformer that does not carry"},
	"a position unknown":     {func(n *Network) { n.Devices[0].Normal.Pos = "ajar" }, "devices[1].normal.pos: ajar"},
	"a place unknown":        {func(n *Network) { n.Devices[0].Normal.Place = "out" }, "devices[1].normal.place: out"},
	"a switch withdrawn":     {func(n *Network) { n.Devices[0].Normal = Standing{Pos: Open, Place: Withdrawn} }, "devices[1].normal.place: withdrawn"},
	"withdrawn and closed":   {func(n *Network) { n.Devices[2].Normal.Place = Withdrawn }, `devices[3].normal.pos: "closed", withdrawn`},
	"a lock twice":           {func(n *Network) { n.Devices[0].Normal.Locks = []string{"1", "1"} }, `devices[1].normal.locks[2]: "1"`},
	"a lock on nobody knows": {func(n *Network) { n.Devices[0].Normal = Standing{Locks: []string{"1"}} }, `devices[1].normal.pos: "" with a lock on`},
	"a source twice":         {func(n *Network) { n.Sources[1].ID = "F1" }, "sources[2].id: F1 twice"},
	"a source nowhere":       {func(n *Network) { n.Sources[1].At = "x" }, `sources[2].at: unknown node "x"`},
	"a source of what":       {func(n *Network) { n.Sources[1].Kind = "sun" }, "sources[2].kind: sun"},
	"a charged supply":       {func(n *Network) { n.Sources[1].Charged = true }, "sources[2].charged: a supply"},
	"an interlock nowhere":   {func(n *Network) { n.Interlocks[0].Device = "x" }, `interlocks[1].device: unknown device "x"`},
	"an interlock of what":   {func(n *Network) { n.Interlocks[0].Act = ActLock }, `interlocks[1].act: "lock" on a device of kind switch`},
	"an interlock misfits":   {func(n *Network) { n.Interlocks[2].Act = ActClose }, `interlocks[3].act: "close" on a device of kind earth-switch`},
	"it needs what":          {func(n *Network) { n.Interlocks[0].Needs.Device = "x" }, `interlocks[1].needs.device: unknown device "x"`},
	"it needs nothing":       {func(n *Network) { n.Interlocks[0].Needs.Place = "" }, "interlocks[1].needs: no position and no place"},
	"it needs the unknown":   {func(n *Network) { n.Interlocks[1].Needs.Pos = Unknown }, "interlocks[2].needs.pos: unknown"},
	"it needs the undoable":  {func(n *Network) { n.Interlocks[1].Needs.Place = Test }, "interlocks[2].needs: a standing that e2h never has"},
	"it needs no place":      {func(n *Network) { n.Interlocks[0].Needs.Place = "out" }, "interlocks[1].needs.place: out"},
	"a key twice":            {func(n *Network) { n.Keys = append(n.Keys, n.Keys[0]) }, "keys[2].id: K2 twice"},
	"a key's home unknown":   {func(n *Network) { n.Keys[0].Home = "x" }, `keys[1].home: unknown device "x"`},
	"a home not in free":     {func(n *Network) { n.Keys[0].Home = "q1l" }, "keys[1].home: q1l"},
	"a key freed twice":      {func(n *Network) { n.Keys[0].Free = append(n.Keys[0].Free, Condition{Device: "q2l", Pos: Open}) }, "keys[1].free[3].device: q2l twice"},
	"a key freed by what":    {func(n *Network) { n.Keys[0].Free[1].Device = "x" }, `keys[1].free[2].device: unknown device "x"`},
	"proofs for ever":        {func(n *Network) { n.Life.Proved = -1 }, "life.proved: -1ns"},
	"phasings for ever":      {func(n *Network) { n.Life.Phased = -1 }, "life.phased: -1ns"},
	"live and earthed":       {func(n *Network) { n.Devices[8].Normal.Pos = Closed }, "nodes[3]: t2h may be live from F2 and earthed at the start"},
	"perhaps both":           {func(n *Network) { n.Devices[7].Normal.Pos = "" }, "nodes[1]: f1 may be live from F1 and earthed at the start"},
}

// Each mistake is named by where it stands, with the value met and what is accepted.
func TestNew_mistakes(t *testing.T) {
	for name, c := range mistakes {
		t.Run(name, func(t *testing.T) {
			n := interlocked()
			c.spoil(&n)
			p, found := New(n)
			if p != nil || len(found) == 0 {
				t.Fatal("a plant came of it")
			}
			if got := fmt.Sprintf("%s: %s", found[0].Path, found[0].Met); got != c.want {
				t.Errorf("%s\nwant %s", found.Error(), c.want)
			}
			if found[0].Accepted == "" || !strings.Contains(found.Error(), found[0].Accepted) {
				t.Errorf("%q does not say what is accepted", found.Error())
			}
		})
	}
}

// With nothing recorded every node may be live and none is safe.
func TestZero_is_not_safe(t *testing.T) {
	p, problems := New(station())
	if problems != nil {
		t.Fatal(problems)
	}
	v := p.Look(nil, Memory{}, 0)
	for _, n := range v.Nodes {
		if n.Isolated || n.Secured || len(n.MayLive) == 0 || n.Proved {
			t.Errorf("%+v: with nothing recorded", n)
		}
	}
	if n := v.Node("nowhere"); n.Isolated || n.Secured || n.Proved {
		t.Errorf("%+v: of no node", n)
	}
}
