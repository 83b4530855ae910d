package network

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The worked example of a refusal: the LV incomer of T2 is open and not withdrawn, so section B could feed its HV terminals backwards.
func TestEarth_could_be_fed_backwards(t *testing.T) {
	x := at(t, station())
	x.do(shutAfterPhasing("qc")...)
	x.do(open("q2l"), open("q2h"), prove("t2h"))
	got := x.refuse(earthOn("e2h"), RuleNotIsolated)
	want := Refusal{
		Rule: RuleNotIsolated, Device: "e2h", Nodes: []string{"t2h"}, Authority: Person,
		Feeds: []Feed{{Node: "t2h", Device: "q2l", Sources: []string{"F1"}, Through: []string{"T2"}}},
		Cure:  []Step{withdraw("q2l"), {Act: ActLock, Device: "q2l"}},
	}
	if d := cmp.Diff([]Refusal{want}, got); d != "" {
		t.Errorf("(want -, got +)\n%s", d)
	}
	x.do(withdraw("q2l"), lock("q2l", "1"), earthOn("e2h"))
}

func shutAfterPhasing(d string) []Step { return []Step{phase(d), shut(d)} }

// Of live plant the cure opens what feeds it, and makes gaps of what does not isolate.
func TestEarth_on_live_plant(t *testing.T) {
	x := at(t, station())
	got := x.refuse(earthOn("e2h"), RuleLiveEarth, RuleNotIsolated, RuleNotProved)
	want := []Step{open("q2l"), withdraw("q2l"), {Act: ActLock, Device: "q2l"}, open("q2h"), {Act: ActLock, Device: "q2h"}}
	if d := cmp.Diff(want, got[0].Cure); d != "" || got[0].Rule != RuleLiveEarth || got[0].Authority != Never {
		t.Errorf("%s %s (want -, got +)\n%s", got[0].Rule, got[0].Authority, d)
	}
}

// A fault that was only possible hides none that becomes certain.
func TestOntoEarth_possible_then_certain(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(found("q2h", Unknown))
	if got := x.refuse(shut("q2h"), RuleOntoEarth, RuleParallel); got[0].Rule != RuleOntoEarth || !slices.Equal(got[0].Devices, []string{"e2h", "p2l"}) {
		t.Errorf("%+v: want the earths named", got[0])
	}
}

// Two transformers side by side feed a dead HV bar backwards, though neither does alone.
func TestBackFeed_two_side_by_side(t *testing.T) {
	closed, opened := Standing{Pos: Closed}, Standing{Pos: Open}
	x := at(t, Network{
		Nodes:   []Node{{ID: "grid"}, {ID: "bar"}, {ID: "board", Low: true}, {ID: "set", Low: true}},
		Sources: []Source{{ID: "G", At: "grid"}, {ID: "gen", At: "set"}},
		Devices: []Device{
			{ID: "in", Kind: Switch, Between: []string{"grid", "bar"}, Normal: opened},
			{ID: "Ta", Kind: Transformer, Between: []string{"bar", "board"}, Normal: closed},
			{ID: "Tb", Kind: Transformer, Between: []string{"bar", "board"}, Normal: closed},
			{ID: "qg", Kind: Breaker, Between: []string{"set", "board"}, Normal: opened},
			{ID: "spare", Kind: Breaker, Between: []string{"set", "board"}, Normal: opened},
		},
	})
	got := x.refuse(shut("qg"), RuleBackFeed)
	var through []string
	for _, r := range got {
		through = append(through, r.Devices...)
		if d := cmp.Diff([]Step{shut("in")}, r.Cure); d != "" {
			t.Errorf("cure (want -, got +)\n%s", d)
		}
	}
	if !slices.Equal(through, []string{"Ta", "Tb"}) {
		t.Errorf("fed backwards through %v, want Ta and Tb", through)
	}
	step := shut("qg")
	step.Leave = []Rule{RuleBackFeed}
	step.Overrides = []Override{{Rule: RuleBackFeed, Person: "R. Vale", Reason: "set feeds the pumps at 11 kV"}}
	x.do(step)
	if got := x.look().BackFed; !slices.Equal(got, []string{"Ta", "Tb"}) {
		t.Errorf("live backwards %v, want Ta and Tb", got)
	}
}

// A transformer that the plan lets step up feeds its high side forwards, and the next transformer on that bar.
func TestBackFeed_step_up(t *testing.T) {
	n := Network{
		Nodes:   []Node{{ID: "bar"}, {ID: "set", Low: true}, {ID: "mid", Low: true}, {ID: "board", Low: true}},
		Sources: []Source{{ID: "gen", At: "set"}},
		Devices: []Device{
			{ID: "qg", Kind: Breaker, Between: []string{"set", "mid"}, Normal: Standing{Pos: Open}},
			{ID: "up", Kind: Transformer, Between: []string{"bar", "mid"}, BackFeed: true},
			{ID: "down", Kind: Transformer, Between: []string{"bar", "board"}},
		},
	}
	at(t, n).do(shut("qg"))
	n.Devices[1].BackFeed = false
	at(t, n).refuse(shut("qg"), RuleBackFeed)
}

// Opening the HV side first leaves the HV terminals live from the board: no rule forbids it, the view says it.
func TestBackFed_by_opening_first(t *testing.T) {
	x := at(t, station())
	x.do(shutAfterPhasing("qc")...)
	x.do(open("q2h"))
	if v := x.look(); !slices.Equal(v.BackFed, []string{"T2"}) || !slices.Equal(v.Node("t2h").Live, []string{"F1"}) {
		t.Errorf("live backwards %v, t2h from %v: want T2 and F1", v.BackFed, v.Node("t2h").Live)
	}
}

// Transformers that share a bar and no loop are two groups; a loop is what current can circulate in.
func TestLoops_two_on_one_bar(t *testing.T) {
	n := Network{Nodes: []Node{{ID: "bar"}, {ID: "a", Low: true}, {ID: "b", Low: true}}, Sources: []Source{{ID: "G", At: "bar"}}}
	for id, low := range map[string]string{"T1": "a", "T2": "a", "T3": "b", "T4": "b", "T5": "b"} {
		n.Devices = append(n.Devices, Device{ID: id, Kind: Transformer, Between: []string{"bar", low}})
	}
	if d := cmp.Diff([][]string{{"T1", "T2"}, {"T3", "T4", "T5"}}, at(t, n).look().Loops); d != "" {
		t.Errorf("(want -, got +)\n%s", d)
	}
}

// Who may override what, from the table of rules. Without the plan's leave, a person or a reason nobody may; what is for nobody stays so.
func TestOverride(t *testing.T) {
	full := Override{Person: "R. Vale", Reason: "because", InControl: true, Indicator: "VPIS 3", LiveBefore: true, LiveAfter: true}
	may := []Rule{RuleInterlock, RuleKey, RuleNotIsolated, RuleNotProved, RuleParallel, RuleBackFeed}
	for rule, who := range authority {
		full.Rule = rule
		r := Refusal{Rule: rule, Authority: who}
		s := Step{Leave: []Rule{rule}, Overrides: []Override{full}}
		if got, want := s.overridden(r), slices.Contains(may, rule); got != want {
			t.Errorf("%s overridden: %v, want %v", rule, got, want)
		}
		lacking := map[string]func(*Override){
			"person": func(o *Override) { o.Person = " " }, "reason": func(o *Override) { o.Reason = "" }, "rule": func(o *Override) { o.Rule = "" },
		}
		switch rule {
		case RuleParallel:
			lacking["control"] = func(o *Override) { o.InControl = false }
		case RuleNotProved:
			lacking["indicator"] = func(o *Override) { o.Indicator = "" }
			lacking["before"] = func(o *Override) { o.LiveBefore = false }
			lacking["after"] = func(o *Override) { o.LiveAfter = false }
		}
		for what, take := range lacking {
			o := full
			take(&o)
			if (Step{Leave: s.Leave, Overrides: []Override{o}}).overridden(r) {
				t.Errorf("%s is overridden without %s", rule, what)
			}
		}
		if (Step{Overrides: s.Overrides}).overridden(r) {
			t.Errorf("%s is overridden without the plan's leave", rule)
		}
		r.Authority = ""
		if s.overridden(r) {
			t.Errorf("%s is overridden though nobody has the authority", rule)
		}
	}
	if len(authority) != 17 {
		t.Errorf("%d rules with an authority, want 17", len(authority))
	}
}
