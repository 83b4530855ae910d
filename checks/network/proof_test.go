package network

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// A proof ends when its plant is joined to more, live or not.
func TestProof_lapses_when_joined(t *testing.T) {
	x := at(t, station())
	x.do(open("q2l"), open("q2h"), withdraw("q2l"))
	x.do(prove("t2l"), prove("B"))
	x.do(rackIn("q2l"), shut("q2l")) // joins the dead section B to the dead terminals
	if x.node("B").Proved {
		t.Error("B is joined to t2l: its proof has ended")
	}
}

// A proof at one node is none at a node joined to it: what joins them may be open unseen.
func TestProof_is_for_its_node_alone(t *testing.T) {
	x := at(t, station())
	x.t2Off()
	x.do(prove("t2l"))
	x.refuse(earthOn("e2h"), RuleNotProved)
	x.do(prove("t2h"), earthOn("e2h"))
}

// Thirty minutes, our choice: at the last minute good, a second later not. A proof from after now is none.
func TestProof_minutes(t *testing.T) {
	for now, good := range map[time.Duration]bool{0: true, 30 * time.Minute: true, 30*time.Minute + time.Second: false, -time.Second: false} {
		x := at(t, station())
		x.t2Off()
		x.do(prove("t2h"))
		if x.now = now; x.node("t2h").Proved != good {
			t.Errorf("after %s proved is %v", now, !good)
		}
		if good {
			continue
		}
		if got := x.refuse(earthOn("e2h"), RuleNotProved); got[0].Why != WhyLapsed {
			t.Errorf("%+v: want it lapsed", got[0])
		}
	}
}

// A lock or a second gap makes isolation better and ends no proof; losing isolation does, though nothing becomes live.
func TestProof_and_isolation(t *testing.T) {
	x := at(t, station())
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), prove("t2h"), lock("q2h", "1"), lock("q2l", "2"))
	if !x.node("t2h").Proved {
		t.Error("a lock ended the proof")
	}
	x.do(unlock("q2l", "2"), rackIn("q2l"))
	if x.node("t2h").Proved {
		t.Error("isolation is lost, the proof is not")
	}
}

// A part that is earthed by being joined to an earth was to be proved first.
func TestProof_joining_an_earthed_part(t *testing.T) {
	x := at(t, station())
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), prove("t2h"), earthOn("e2h"), prove("t2l"), earthOn("p2l"))
	x.do(rackIn("q2l"))
	if got := x.refuse(shut("q2l"), RuleNotProved); got[0].Why != WhyJoining || !slices.Equal(got[0].Nodes, []string{"B"}) {
		t.Errorf("%+v: want B, joined", got[0])
	}
	x.do(prove("B"), shut("q2l"))
}

// A phasing ends when a side is dead or live from other supplies, and after its minutes: ten, our choice.
func TestPhasing(t *testing.T) {
	x := at(t, station())
	if got := x.refuse(shut("qc"), RuleParallel); got[0].Why != WhyNever || !slices.Equal(got[0].Sources, []string{"F1", "F2"}) {
		t.Errorf("%+v: want it never phased, F1 and F2", got[0])
	}
	x.do(phase("qc"))
	x.now = 11 * time.Minute
	if got := x.refuse(shut("qc"), RuleParallel); got[0].Why != WhyLapsed {
		t.Errorf("%+v: want it lapsed", got[0])
	}
	x.do(phase("qc"), open("q2l"))
	if len(x.m.Phasings) > 0 {
		t.Error("B went dead and the phasing stands")
	}
	x.refuse(phase("qc"), RuleNoProof)
}

// A proof at a node that may be live, as an amended plan may find it, is gone at the next step.
func TestProof_at_live_plant(t *testing.T) {
	x := at(t, station())
	x.m.Proofs["A"] = Proof{}
	x.do(open("q2l"))
	if _, ok := x.m.Proofs["A"]; ok {
		t.Error("A is live and its proof stands")
	}
}

// banks is a supply and two capacitors in a row, a switch before each. The first is closed.
//
//	S a -ab- b (one) -bc- c (two)
func banks() Network {
	closed, opened := Standing{Pos: Closed, Place: Service}, Standing{Pos: Open, Place: Service}
	return Network{
		Nodes:   []Node{{ID: "a", Low: true}, {ID: "b", Low: true}, {ID: "c", Low: true}},
		Sources: []Source{{ID: "S", At: "a"}, {ID: "one", At: "b", Kind: Capacitor}, {ID: "two", At: "c", Kind: Capacitor}},
		Devices: []Device{
			{ID: "ab", Kind: Switch, Between: []string{"a", "b"}, Normal: closed},
			{ID: "bc", Kind: Switch, Between: []string{"b", "c"}, Normal: opened},
			{ID: "eb", Kind: PortableEarth, Between: []string{"b"}, Normal: opened},
			{ID: "ec", Kind: PortableEarth, Between: []string{"c"}, Normal: opened},
		},
	}
}

func discharge(source string) Step { return Step{Act: ActDischarge, Source: source} }

// A capacitor is charged by what reaches it, another charged one too, and stays so until it is discharged.
func TestCapacitors(t *testing.T) {
	x := at(t, banks())
	x.refuse(discharge("one"), RuleNoProof)
	x.refuse(discharge("S"), RuleNoProof)
	x.do(open("ab"), shut("bc"))
	if !x.m.Charged["two"] {
		t.Error("two was joined to one while that held its charge")
	}
	got := x.refuse(prove("b"), RuleNoProof)
	if want := []string{"one", "two"}; !slices.Equal(got[0].Sources, want) || len(got[0].Cure) != 2 || got[0].Cure[0].Act != ActDischarge {
		t.Errorf("%+v: want it live from %v, and both to be discharged", got[0], want)
	}
	x.do(discharge("one"), discharge("two"), prove("b"), earthOn("eb"))
}

// A charged capacitor is live plant: no earth goes on, no document is issued over it, and it is not joined to what is under one.
func TestCapacitor_is_live_plant(t *testing.T) {
	x := at(t, banks())
	x.do(shut("bc"), open("bc"), open("ab"), lock("ab", "1"))
	got := x.refuse(earthOn("eb"), RuleLiveEarth, RuleNotProved)
	if d := cmp.Diff([]Step{discharge("one")}, got[0].Cure); d != "" {
		t.Errorf("cure (want -, got +)\n%s", d)
	}
	x.refuse(issue("S1", TestSanction, "b"), RuleNotSafe)
	x.do(discharge("one"), issue("S1", TestSanction, "b"))
	got = x.refuse(shut("bc"), RuleUnderDocument)
	if got[0].Why != WhyLive || !slices.Equal(got[0].Nodes, []string{"b"}) {
		t.Errorf("%+v: want b live", got)
	}
}

// Behind a switch of unknown position a capacitor may be charged, a supply may be on, and what is charged makes live.
func TestCapacitor_behind_an_unknown_position(t *testing.T) {
	n := banks()
	n.Devices[1].Normal = Standing{}
	x := at(t, n)
	if !x.m.Charged["two"] {
		t.Error("a supply may have charged two")
	}
	x.refuse(discharge("two"), RuleNoProof)
	x.do(open("ab"), lock("ab", "1"), discharge("one"))
	x.refuse(issue("S1", TestSanction, "b"), RuleNotSafe) // two may be joined to it
	x.do(discharge("one"), discharge("two"), issue("S1", TestSanction, "b"))
}

// A capacitor that no supply reaches at the start is charged when the plan says so.
func TestCapacitor_charged_at_the_start(t *testing.T) {
	n := banks()
	if x := at(t, n); x.m.Charged["two"] {
		t.Error("nobody said that two is charged")
	}
	n.Sources[2].Charged = true
	at(t, n).refuse(prove("c"), RuleNoProof)
}
