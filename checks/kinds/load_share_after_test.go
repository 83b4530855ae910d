package kinds

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// What meets at a bar may miss by 5 % of the larger current beyond its uncertainty, and
// by no more (our choice). Two like units bring 600 A each; the meter reads without an
// error, so that nothing else is allowed for:
//
//	no direction     30 A of 600 A
//	taken away       630 A of 600 A brought
//	section B read   300 − 0.05·900 = 255 A at least, 900 A + 5 % of itself = 947.37 A at most
//	both sections    0.95·1200 = 1140 A at least
func TestLoadShare_balanceSlack(t *testing.T) {
	const holds, not = "current balance holds at section B", "current balance does not hold at section B"
	for _, c := range []struct {
		direction          string
		coupler            float64
		sectionA, sectionB float64 // 0 for not read
		says               string
	}{
		{"none", 29.9, 0, 0, holds},
		{"none", 30.1, 0, 0, "the coupler carries 30.1 A on L1, but no direction was given"},
		{"B to A", 629.9, 0, 0, holds},
		{"B to A", 630.1, 0, 0, not},
		{"B to A", 300, 0, 255.1, holds},
		{"B to A", 300, 0, 254.9, not},
		{"B to A", 300, 0, 947.3, holds},
		{"B to A", 300, 0, 947.5, not},
		{"B to A", 300, 880, 260.1, holds},
		{"B to A", 300, 880, 259.9, "both sections together read 1139.9 A, their incomers bring 1200 A at least"},
	} {
		set := map[string]any{"instruments.0.ranges.0": map[string]any{"to": "2000 A", "resolution": "0.000001 A", "reading": "0 %", "digits": 0}, "answers.direction": c.direction}
		each := func(key string, amps float64) {
			for k := 1; amps > 0 && k <= 3; k++ {
				set[fmt.Sprintf("answers.%s_i%d", key, k)] = fmt.Sprint(amps)
			}
		}
		each("t1", 600)
		each("t2", 600)
		each("coupler", c.coupler)
		each("section_a", c.sectionA)
		each("section_b", c.sectionB)
		_, found := judgedCase(t, "load-share", set)
		if !cases.AnyReason("load-share", found, c.says) {
			t.Errorf("coupler %v A %s, sections %v and %v A: %q, want %q", c.coupler, c.direction, c.sectionA, c.sectionB, found.Reasons, c.says)
		}
	}
}

// Power factors are asked where what B may draw comes within 5 % of the 1099.71 A that
// its transformer may carry, 1044.72 A: the current of its incomer and of the coupler
// together, for at opposite power factors the section draws so much.
func TestLoadShare_factorsAskedWithinSlack(t *testing.T) {
	for coupler, want := range map[string]bool{"444.7": false, "444.8": true} {
		set := map[string]any{}
		for k := 1; k <= 3; k++ {
			set[fmt.Sprintf("answers.t2_i%d", k)], set[fmt.Sprintf("answers.coupler_i%d", k)] = "600", coupler
		}
		in, _ := judgedCase(t, "load-share", set)
		asked := false
		for _, f := range in.Form() {
			asked = asked || strings.HasSuffix(f.Key, "_pf") && !f.Known
		}
		if asked != want {
			t.Errorf("600 and %s A: power factors asked: %v, want %v", coupler, asked, want)
		}
	}
}

// One section read alone is vouched for by nothing: of 800 A read and the 592 + 301 = 893 A
// that come in, the larger counts, whichever section was read.
func TestLoadShare_sectionReadAlone(t *testing.T) {
	for _, c := range []struct {
		direction, section, key string
		want                    float64
	}{{"A to B", "section_b", "section_b_l1", 893}, {"B to A", "section_a", "section_a_l1", 913}} {
		set := map[string]any{"answers.direction": c.direction}
		for k := 1; k <= 3; k++ {
			set[fmt.Sprintf("answers.%s_i%d", c.section, k)] = "800"
		}
		_, found := judgedCase(t, "load-share", set)
		if d, ok := found.Value(c.key); !ok || !(math.Abs(d.Value-c.want) <= 1e-9) {
			t.Errorf("%s %s: %v, want %v", c.direction, c.key, d.Value, c.want)
		}
	}
}

// judgedCase judges the base of a case file with some of its values set.
func judgedCase(t *testing.T, kind string, set map[string]any) (checks.Input, checks.Finding) {
	t.Helper()
	trial, err := plan.LoadTrial(kind+".json", cases.Read(t, kind).Trial(t, set))
	if err != nil {
		t.Fatal(err)
	}
	in, found, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return in, found
}
