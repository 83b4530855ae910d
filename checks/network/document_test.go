package network

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// A point that a document names stays as it was, though another one remains between the node and the supply.
func TestDocument_pins_its_points(t *testing.T) {
	x := at(t, twoSwitches())
	x.t2Earthed()
	x.do(open("q2x"), lock("q2x", "7"), issue("P1", Permit, "t2h", "t2l"))
	want := Document{Type: Permit, Nodes: []string{"t2h", "t2l"}, Points: []string{"q2h", "q2l"}, Earths: []string{"e2h", "p2l"}}
	if d := cmp.Diff(want, x.m.Documents["P1"]); d != "" {
		t.Fatalf("issued (want -, got +)\n%s", d)
	}
	got := x.refuse(unlock("q2h", "1"), RuleUnderDocument)
	if !slices.ContainsFunc(got, func(r Refusal) bool { return r.Why == WhyPoint && r.Document == "P1" && r.Authority == Never }) {
		t.Errorf("%+v: want the point named", got)
	}
	x.do(lock("q2h", "8"), unlock("q2h", "1")) // one lock of two: it stays secured
	x.do(unlock("q2x", "7"))                   // not named
}

// A node under a document keeps its isolation, from what it does not name too.
func TestDocument_keeps_isolation(t *testing.T) {
	n := station()
	n.Nodes = append(n.Nodes, Node{ID: "set", Low: true})
	opened := Standing{Pos: Open, Place: Service}
	n.Devices = append(n.Devices,
		Device{ID: "qs", Kind: Breaker, Between: []string{"set", "t2l"}, Normal: opened},
		Device{ID: "gm", Kind: Switch, Between: []string{"set", "B"}, Normal: Standing{Pos: Open, Place: Service}})
	x := at(t, n)
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), withdraw("qs"), lock("q2h", "1"), lock("q2l", "2"), lock("qs", "3"))
	x.do(prove("t2h"), earthOn("e2h"), prove("t2l"), earthOn("p2l"), issue("P1", Permit, "t2h"))
	got := x.refuse(unlock("qs", "3"), RuleUnderDocument)
	if !slices.ContainsFunc(got, func(r Refusal) bool { return r.Why == WhyIsolation && slices.Equal(r.Nodes, []string{"t2h"}) }) {
		t.Errorf("%+v: want the isolation of t2h", got)
	}
}

// A permit above 1 kV asks for an earth; up to 1 kV a proof does. EN 50110-1 (from memory).
func TestDocument_permit_asks_for_earth_above_1_kV(t *testing.T) {
	x := at(t, station())
	x.t2Off()
	x.do(prove("t2h"), prove("t2l"))
	got := x.refuse(issue("P1", Permit, "t2h"), RuleNotSafe)
	if d := cmp.Diff([]Step{earthOn("e2h")}, got[0].Cure); got[0].Why != WhyUnearthed || d != "" {
		t.Errorf("%+v: want it not earthed, e2h to go on", got)
	}
	x.do(issue("P1", Permit, "t2l"))
	x.now = 31 * time.Minute
	if got := x.refuse(issue("P2", Permit, "t2l"), RuleNotSafe); got[0].Why != WhyUnproved {
		t.Errorf("%+v: want it not proved", got)
	}
	x.do(issue("S", TestSanction, "t2h")) // isolated and secured is enough for a test
}

// Locks may come after the earth and not after the permit.
func TestDocument_asks_for_locks(t *testing.T) {
	x := at(t, station())
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), prove("t2h"), earthOn("e2h"))
	got := x.refuse(issue("P1", Permit, "t2h"), RuleNotSafe)
	want := []Step{{Act: ActLock, Device: "q2l"}, {Act: ActLock, Device: "q2h"}}
	if d := cmp.Diff(want, got[0].Cure); got[0].Why != WhyUnsecured || d != "" {
		t.Errorf("%s (want -, got +)\n%s", got[0].Why, d)
	}
}

// Each document in force holds what it names, whatever the other says; a second permit on the same plant is no fault, a sanction is.
func TestDocument_two_in_force(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(issue("P1", Permit, "t2h"), issue("P2", Permit, "t2h", "t2l"))
	x.refuse(issue("S1", TestSanction, "t2l"), RuleDocuments)
	x.do(clear("P1"))
	x.refuse(clear("P1"), RuleState)
	x.do(cancel("P1"))
	got := x.refuse(earthOff("p2l"), RuleUnderDocument)
	for _, r := range got {
		if r.Document != "P2" {
			t.Errorf("%+v: P2 alone is in force", r)
		}
	}
	x.refuse(cancel("P2"), RuleDocuments)
	x.do(clear("P2"))
	x.refuse(unlock("q2h", "1"), RuleUnderDocument) // cleared is not cancelled
	x.do(cancel("P2"), earthOff("p2l"), unlock("q2h", "1"))
}

func TestDocument_two_hold_one_point(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(issue("P1", Permit, "t2h"), issue("P2", Permit, "t2l"))
	var docs []string
	for _, r := range x.refuse(unlock("q2h", "1"), RuleUnderDocument) {
		if r.Why == WhyPoint {
			docs = append(docs, r.Document)
		}
	}
	if !slices.Equal(docs, []string{"P1", "P2"}) {
		t.Errorf("held by %v, want P1 and P2", docs)
	}
}

// The last lock off an earth frees it, and a permit that names it forbids that. Under a sanction for test, earths come off and go on.
func TestDocument_and_earths(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(lock("e2h", "3"), issue("P1", Permit, "t2h", "t2l"))
	if got := x.refuse(unlock("e2h", "3"), RuleUnderDocument); got[0].Why != WhyEarth {
		t.Errorf("%+v: want the earth freed", got)
	}
	x.do(clear("P1"), cancel("P1"), issue("S1", TestSanction, "t2h", "t2l"))
	x.do(unlock("e2h", "3"), earthOff("e2h"), earthOff("p2l"))
	x.refuse(earthOn("p2l"), RuleNotProved)
	x.do(prove("t2l"), earthOn("p2l"))
}

// A document over a node that an amended plan no longer draws holds everything until it is cancelled.
func TestDocument_over_a_node_no_longer_drawn(t *testing.T) {
	x := at(t, station())
	x.m.Documents["P0"] = Document{Type: Permit, Nodes: []string{"old"}}
	if got := x.refuse(open("q2l"), RuleUnderDocument); got[0].Why != WhyUnknown {
		t.Errorf("%+v: want it unknown", got)
	}
	x.do(clear("P0"), cancel("P0"), open("q2l"))
}
