package network

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func planned(minute int, s Step) Step {
	s.At, s.Timed = minutes(minute), true
	return s
}

// tapChange takes T2 off and brings it back. What each step brings was worked out by hand and stands beside it.
var tapChange = []Step{
	planned(0, phase("qc")),     // 1
	planned(2, shut("qc")),      // 2: F1 and F2 in parallel, T1 and T2 on one loop
	planned(5, open("q2l")),     // 3: parted after three minutes
	planned(6, open("q2h")),     // 4: T2 dark; both its sides could be fed from B
	planned(7, withdraw("q2l")), // 5: T2 isolated
	planned(8, lock("q2l", "1")),
	planned(9, lock("q2h", "2")), // 7: and secured
	planned(9, unlock("q2h", "2")),
	planned(10, shut("q2h")), // 9: live again
	planned(11, unlock("q2l", "1")),
	planned(12, rackIn("q2l")),
	planned(13, phase("q2l")),
	planned(14, shut("q2l")),                                        // 13: in parallel again
	planned(15, open("qc")),                                         // 14
	{Act: ActOpen, Device: "q2l", Drops: []string{"duty pumps"}},    // 15: not the one that is lost: refused
	{Act: ActOpen, Device: "q2l", Drops: []string{"standby pumps"}}, // 16
}

// A change of taps, line by line.
func TestPlay_tap_change(t *testing.T) {
	n := station()
	for i := range n.Nodes {
		if id := n.Nodes[i].ID; id == "B" {
			n.Nodes[i].Load = "standby pumps"
		}
	}
	x := at(t, n)
	run := x.p.Play(x.s, x.m, tapChange, nil)
	both := []string{"t2h", "t2l"}
	want := []Line{
		{Step: 1}, {Step: 2}, {Step: 3},
		{Step: 4, Lost: both, Feeds: []Feed{
			{Node: "t2h", Device: "q2l", Sources: []string{"F1"}, Through: []string{"T2"}}, {Node: "t2l", Device: "q2l", Sources: []string{"F1"}}}},
		{Step: 5, Isolated: []Cut{{both, []string{"q2h", "q2l"}}}},
		{Step: 6}, {Step: 7, Secured: []Cut{{both, []string{"q2h", "q2l"}}}}, {Step: 8},
		{Step: 9, Back: both, NotIsolated: both},
		{Step: 10}, {Step: 11}, {Step: 12}, {Step: 13}, {Step: 14},
		{Step: 15, Refused: []Refusal{{Rule: RuleLoses, Device: "q2l", Nodes: []string{"B"}, Loads: []string{"standby pumps"}, Authority: Amend}}},
		{Step: 16, Lost: []string{"B"}, Loads: []string{"standby pumps"}, Feeds: []Feed{
			{Node: "B", Device: "qc", Sources: []string{"F1"}}, {Node: "B", Device: "q2l", Sources: []string{"F2"}}}},
	}
	sorted := cmpopts.SortSlices(func(a, b Feed) int { return strings.Compare(a.Node+a.Device, b.Node+b.Device) })
	if d := cmp.Diff(want, run.Lines, alike, sorted); d != "" {
		t.Errorf("lines (want -, got +)\n%s", d)
	}
	supplies, loop := []string{"F1", "F2"}, []string{"T1", "T2"}
	together := []Parallel{
		{Supplies: supplies, From: 2, To: 3, Lasts: 3 * time.Minute, Timed: true}, {Transformers: loop, From: 2, To: 3, Lasts: 3 * time.Minute, Timed: true},
		{Supplies: supplies, From: 13, To: 14, Lasts: time.Minute, Timed: true}, {Transformers: loop, From: 13, To: 14, Lasts: time.Minute, Timed: true},
	}
	if d := cmp.Diff(together, run.Parallels); d != "" {
		t.Errorf("in parallel (want -, got +)\n%s", d)
	}
	if d := cmp.Diff([]Leftover{{LeftPosition, "q2l", []string{"open"}, []string{"closed"}}}, run.Left); d != "" {
		t.Errorf("left (want -, got +)\n%s", d)
	}
	if !run.Refused() {
		t.Error("a step was refused and the run does not say so")
	}
	if d := cmp.Diff(x.p.Look(run.State, run.Memory, minutes(15)), run.End); d != "" {
		t.Errorf("the end (a look -, the run +)\n%s", d)
	}
}

// A gap nearer the node takes the place of the one behind it, and a lock on it makes it the point. What becomes live backwards is told once.
func TestPlay_nearer_gap(t *testing.T) {
	x := at(t, twoSwitches())
	run := x.p.Play(x.s, x.m, []Step{
		phase("qc"), shut("qc"), open("q2x"), open("q2l"), withdraw("q2l"), lock("q2l", "1"), lock("q2x", "2"), open("q2h"), lock("q2h", "3"),
	}, nil)
	both, three := []string{"t2h", "t2l"}, []string{"mid", "t2h", "t2l"}
	want := []Line{
		{Step: 1}, {Step: 2}, {Step: 3, BackFed: []string{"T2"}}, {Step: 4},
		{Step: 5, Isolated: []Cut{{three, []string{"q2l", "q2x"}}}}, {Step: 6},
		{Step: 7, Secured: []Cut{{three, []string{"q2l", "q2x"}}}},
		{Step: 8, Isolated: []Cut{{both, []string{"q2h", "q2l"}}, {[]string{"mid"}, []string{"q2h", "q2x"}}}},
		{Step: 9, Secured: []Cut{{both, []string{"q2h", "q2l"}}, {[]string{"mid"}, []string{"q2h", "q2x"}}}},
	}
	for i, l := range run.Lines {
		l.Lost, l.Feeds = nil, nil
		if d := cmp.Diff(want[i], l, alike, cmpopts.SortSlices(func(a, b Cut) int { return len(b.Nodes) - len(a.Nodes) })); d != "" {
			t.Errorf("step %d (want -, got +)\n%s", i+1, d)
		}
	}
}

// A node that a charged capacitor held live could be fed by another way once it is discharged.
func TestPlay_feeds_after_discharge(t *testing.T) {
	n := banks()
	n.Devices[0].Kind = Breaker
	x := at(t, n)
	run := x.p.Play(x.s, x.m, []Step{open("ab"), {Act: ActDischarge, Source: "one"}}, nil)
	if d := cmp.Diff([]Feed{{Node: "b", Device: "ab", Sources: []string{"S"}}}, run.Lines[1].Feeds); d != "" || len(run.Lines[0].Feeds) > 0 {
		t.Errorf("%v, then (want -, got +)\n%s", run.Lines[0].Feeds, d)
	}
}

// What the plan lets somebody override goes on in a dry run and is told; what is for nobody does not.
func TestPlay_leave(t *testing.T) {
	x := at(t, station())
	coupler, earth := shut("qc"), earthOn("e2h")
	coupler.Leave, earth.Leave = []Rule{RuleParallel}, []Rule{RuleLiveEarth, RuleNotIsolated, RuleNotProved}
	run := x.p.Play(x.s, x.m, []Step{coupler, earth}, nil)
	first, second := run.Lines[0], run.Lines[1]
	if len(first.Refused) > 0 || !slices.Equal(rules(first.Overridden), []Rule{RuleParallel}) {
		t.Errorf("%+v: want it overridden", first)
	}
	if !slices.Equal(rules(second.Refused), []Rule{RuleLiveEarth}) {
		t.Errorf("%v: want live_earth", rules(second.Refused))
	}
	if len(run.Parallels) != 2 || run.Parallels[0].To != 0 || run.Parallels[0].Timed {
		t.Errorf("%+v: want it standing at the end, for nobody knows how long", run.Parallels)
	}
}

// A step without a planned time happens at the last one known, so a proof does not grow young.
func TestPlay_without_times(t *testing.T) {
	x := at(t, station())
	run := x.p.Play(x.s, x.m, []Step{open("q2l"), open("q2h"), withdraw("q2l"), planned(1, prove("t2h")), planned(40, lock("q2h", "1")), earthOn("e2h")}, nil)
	if got := rules(run.Lines[5].Refused); !slices.Equal(got, []Rule{RuleNotProved}) {
		t.Errorf("%v: the proof is 39 minutes old", got)
	}
	run = x.p.Play(x.s, x.m, []Step{open("q2l"), open("q2h"), withdraw("q2l"), planned(10, prove("t2h")), earthOn("e2h")}, nil)
	if run.Refused() {
		t.Errorf("%+v: the proof is good", run.Lines[4].Refused)
	}
	run = x.p.Play(x.s, x.m, []Step{phase("qc"), shut("qc"), planned(5, open("qc"))}, nil)
	if got := run.Parallels[0]; got.To != 3 || got.Timed || got.Lasts != 0 {
		t.Errorf("%+v: nobody knows when it began", got)
	}
}

// The end that a plan wants may differ from its start.
func TestLeft_wanted(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(issue("P1", Permit, "t2h"))
	wanted := State{"q2h": {Pos: Open, Locks: []string{"1"}}, "q2l": {Pos: Open, Place: Withdrawn, Locks: []string{"5"}}}
	want := []Leftover{
		{LeftLocks, "q2l", []string{"2"}, []string{"5"}},
		{LeftPosition, "e2h", []string{"closed"}, []string{"open"}},
		{LeftPosition, "p2l", []string{"closed"}, []string{"open"}},
		{What: LeftDocument, ID: "P1"},
	}
	if d := cmp.Diff(want, x.p.Left(wanted, x.s, x.m), alike); d != "" {
		t.Errorf("(want -, got +)\n%s", d)
	}
}
