package kinds

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// judgeChanged judges the base trial of a kind with some of its values set.
func judgeChanged(t *testing.T, kind string, set map[string]any) (checks.Input, checks.Finding) {
	t.Helper()
	f := cases.Read(t, kind)
	trial, err := plan.LoadTrial(kind+".json", f.Trial(t, set))
	if err != nil {
		t.Fatal(err)
	}
	in, got, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return in, got
}

// No reading of any kind is beyond all bounds without a doubt, nor are volts and
// amperes of live plant below zero.
func TestDoubts_everyReading(t *testing.T) {
	tried := 0
	for _, name := range plan.KindNames() {
		base, _ := judgeChanged(t, name, nil)
		if got := base.Doubts(); len(got) != 0 {
			t.Errorf("%s: the base trial is doubted: %v", name, got)
		}
		for _, f := range base.Form() {
			if _, answered := base.Answers[f.Key]; f.Sort != checks.Measured || !answered {
				continue
			}
			of := quantity.QuantityOf(f.Unit)
			wrong := []float64{1e99, -1e99}
			if base.Check.Kind.Live && (of == "voltage" || of == "current") {
				wrong = append(wrong, -420)
			}
			for _, x := range wrong {
				in := base
				in.Answers = checks.Answers{}
				for k, a := range base.Answers {
					in.Answers[k] = a
				}
				a := in.Answers[f.Key]
				a.Typed, a.Value, a.Bound = fmt.Sprint(x), x, ""
				in.Answers[f.Key] = a
				tried++
				if !checks.Doubted(in.Doubts())(f.Key) {
					t.Errorf("%s: %s of %v %s is not doubted", name, f.Key, x, a.Unit)
				}
				if v := checks.Judge(in).Verdict; v == checks.Pass {
					t.Errorf("%s: %s of %v %s passes", name, f.Key, x, a.Unit)
				}
			}
		}
	}
	if tried < 100 {
		t.Errorf("%d readings tried", tried)
	}
}

// Live kinds hold their readings against plates and nominal volts: by hand, 80 and
// 120 % of the volts and three times the rated current of 1099.7 A (800 kVA at 420 V),
// each our choice.
func TestDoubts_livePlant(t *testing.T) {
	all := func(x string, keys ...string) map[string]any {
		set := map[string]any{}
		for _, k := range keys {
			set["answers."+k] = x
		}
		return set
	}
	sides := func(line, phase string) map[string]any {
		set := all(line, sidesOf(lineKeys, "a_", "b_")...)
		for k, v := range all(phase, sidesOf(phaseKeys, "a_", "b_")...) {
			set[k] = v
		}
		return set
	}
	sections := sidesOf(lineKeys, "section_a_", "section_b_")
	for _, c := range []struct {
		kind  string
		set   map[string]any
		doubt string
	}{
		{"parallel-balance", sides("42.1", "24.3"), "decimal point?"},
		{"parallel-balance", sides("300", "173.2"), "not live"},
		{"parallel-balance", sides("690", "398.4"), "more than live plant can read"},
		{"after-opening", all("300", sections...), "not live"},
		{"after-opening", all("550", sections...), "more than live plant can read"},
		{"after-opening", map[string]any{"answers.t1_i1": "5220", "instruments.1.ranges.0.to": "10 kA"}, "4.75 times the rated current of T1"},
		{"load-share", map[string]any{"answers.t1_i1": "6120", "instruments.0.ranges.0.to": "10 kA"}, "times the rated current of T1"},
		{"load-share", map[string]any{"answers.pf": "0.01"}, "a power factor of 0.01"},
		{"soak", map[string]any{"answers.t1_amb": "75"}, "an ambient of 75 °C"},
		{"soak", map[string]any{"answers.t2_amb": "59"}, "29.8 °C in an ambient of 59 °C"},
		{"soak", map[string]any{"answers.t9_temp": "14.5", "answers.t9_amb": "14.5"}, "plant that carried load is warmer than the air around it"},
		{"soak", map[string]any{"answers.t3_load": "8050"}, "times the rated current of T1"},
	} {
		in, got := judgeChanged(t, c.kind, c.set)
		if doubts := cases.ToldDoubts(in); !strings.Contains(doubts, c.doubt) {
			t.Errorf("%s with %v: doubts %s, want %q", c.kind, c.set, doubts, c.doubt)
		}
		if got.Verdict == checks.Pass {
			t.Errorf("%s with %v passes", c.kind, c.set)
		}
	}
}

func TestInput_levels(t *testing.T) {
	low, high := quantity.Volt(10.8e3), quantity.Volt(11.2e3)
	in := checks.Input{Plan: &plan.Plan{Plant: plan.Plant{
		Supply:       &plan.Supply{Usual: 11e3, Low: &low, High: &high},
		Transformers: []plan.Transformer{{ID: "T1", HV: 11e3, LV: 433, Taps: []plan.Tap{{Position: "1", HV: 11.55e3}, {Position: "2", HV: 11e3}}}},
		Boards:       []plan.Board{{ID: "MB", Nominal: 400}, {ID: "X", Nominal: 690}},
	}}, Check: &plan.Check{}}
	near := func(x float64) string { return fmt.Sprintf("%.1f", x) }
	words := func(levels []float64) string {
		var out []string
		for _, l := range levels {
			out = append(out, near(l))
		}
		return strings.Join(out, " ")
	}
	for _, c := range []struct {
		boards, transformers []string
		want                 string
	}{
		{[]string{"MB"}, nil, "400.0"},
		{[]string{"MB"}, []string{"T1"}, "400.0 433.0 412.4 433.0"}, // 11/11.55·433 = 412.4 V by hand
		{nil, nil, "400.0 690.0 433.0 412.4 433.0 11000.0 11000.0 100.0 110.0 115.0 120.0"},
		{[]string{""}, []string{""}, "400.0 690.0 433.0 412.4 433.0 11000.0 11000.0 100.0 110.0 115.0 120.0"},
	} {
		if got := words(levels(in, c.boards, c.transformers)); got != c.want {
			t.Errorf("boards %q, transformers %q: %s, want %s", c.boards, c.transformers, got, c.want)
		}
	}
	for u, want := range map[float64]bool{319: false, 320: true, 480: true, 481: false, math.NaN(): false} {
		if got := atLevel(u, []float64{400}); got != want {
			t.Errorf("%v V on 400 V: %v", u, got)
		}
	}
	for u, want := range map[float64]bool{49.9: false, 50: true, 1e5: true, math.NaN(): false} {
		if got := atLevel(u, nil); got != want {
			t.Errorf("%v V on a plant that is not known: %v", u, got)
		}
	}
}
