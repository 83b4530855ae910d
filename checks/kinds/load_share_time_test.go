package kinds

import (
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// parallelPlan is a plan whose holds close in parallel above the share and open the
// coupler below it; between stands above the share.
func parallelPlan(t *testing.T, between string) (*plan.Plan, *plan.Check) {
	t.Helper()
	unit := func(id string) string {
		return "    - {id: " + id + ", rating: 800 kVA, hv: 11 kV, lv: 420 V, group: Dyn11, impedance: 6 %, load_loss: 8.4 kW}\n"
	}
	p, err := plan.Load("plan.yaml", []byte(`handback: 1
id: back
title: Back
site: An invented station
work: T2 back after work
people: [{id: ada, name: Ada Example, role: technician}, {id: ben, name: Ben Example, role: engineer}]
instruments:
  - {id: clamp, name: clamp, serial: C1, due: 2027-01-31, category: IV, ranges: [{to: 2000 A, resolution: 1 A, reading: 1 %, digits: 3}]}
plant:
  transformers:
`+unit("T1")+unit("T2")+`  boards: [{id: MB, nominal: 400 V}]
steps:
  - {check: ready, kind: confirm, given: {statements: [People are clear]}}
  - {hold: close, action: Close the incomer of T2 in parallel}
`+between+`  - {check: share, kind: load-share, instrument: clamp, given: {returning: T2, time_limit: 10 min, incomers: [{transformer: T1, side: A}, {transformer: T2, side: B}]}}
  - {hold: open-coupler, action: Open the coupler}
`))
	if err != nil {
		t.Fatal(err)
	}
	return p, p.Check("share")
}

// shared are answers of a sound share; more replaces some.
func shared(t *testing.T, in checks.Input, more map[string]string) checks.Answers {
	t.Helper()
	typed := map[string]string{"meter": "clamp", "t1_closed": "yes", "t2_closed": "yes", "coupler_closed": "yes", "now_at": "11:06", "direction": "B to A"}
	for _, k := range []string{"1", "2", "3"} {
		typed["t1_i"+k], typed["t2_i"+k], typed["coupler_i"+k] = "471", "432", "52"
	}
	for k, v := range more {
		typed[k] = v
	}
	out := checks.Answers{}
	for k, v := range typed {
		f, ok := checks.FieldNamed(in.Form(), k)
		if !ok {
			t.Fatalf("no field %s", k)
		}
		a, err := checks.ParseAnswer(f, in.Plan, v, in.At)
		if err != nil {
			t.Fatal(err)
		}
		out[k] = a
	}
	return out
}

// The time in parallel runs from the step that closed to the step that opened the
// coupler, wherever these are recorded, and typed times must agree with them.
func TestLoadShare_recordedSteps(t *testing.T) {
	at := func(clock string) time.Time {
		x, err := time.Parse(time.RFC3339, "2026-05-12T"+clock+"+01:00")
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	const cross = "  - {check: across, kind: cross-volts, given: {side_a: T1, side_b: T2, device: the incomer of T2, neutrals_tied: yes, nominal: 420 V}}\n"
	for _, c := range []struct {
		name    string
		between string
		steps   map[string]time.Time
		typed   map[string]string
		want    checks.Verdict
		says    string
		asked   bool // closed_at is asked
	}{
		{"closed by a step, not opened yet", "", map[string]time.Time{"close": at("11:05:20")}, nil, checks.Pass, "time in parallel so far 40 s is at most 600 s (plan)", false},
		{"opened 78 min after", "", map[string]time.Time{"close": at("11:05:20"), "open-coupler": at("12:23:20")}, nil, checks.Fail, "whole time in parallel 4680 s is above 600 s (plan)", false},
		{"opened at the limit", "", map[string]time.Time{"close": at("11:05:20"), "open-coupler": at("11:15:20")}, nil, checks.Pass, "whole time in parallel 600 s", false},
		{"opened one second beyond the limit", "", map[string]time.Time{"close": at("11:05:20"), "open-coupler": at("11:15:21")}, nil, checks.Fail, "601 s is above", false},
		{"typed a minute off, as clocks are", "", map[string]time.Time{"close": at("11:05:20")}, map[string]string{"closed_at": "11:06:20", "now_at": "11:06:20"}, checks.Pass, "so far 60 s", false},
		{"typed more than a minute off", "", map[string]time.Time{"close": at("11:05:20")}, map[string]string{"closed_at": "11:06:21", "now_at": "11:06:30"}, checks.Inconclusive, "closed at 2026-05-12 11:06:21, but the step close was recorded at 2026-05-12 11:05:20", false},
		{"typed to hide 20 min", "", map[string]time.Time{"close": at("10:45:20")}, map[string]string{"closed_at": "11:05"}, checks.Inconclusive, "1240 s is above", false},
		{"read to the minute right after closing", "", map[string]time.Time{"close": at("11:06:40")}, nil, checks.Pass, "so far 0 s", false},
		{"read before closing", "", map[string]time.Time{"close": at("11:08:40")}, nil, checks.Fail, "before the incomers were in parallel", false},
		{"read after the opening", "", map[string]time.Time{"close": at("10:55:20"), "open-coupler": at("11:03:00")}, nil, checks.Inconclusive, "currents read at 2026-05-12 11:06:00, but the step open-coupler that ends the sharing was recorded at 2026-05-12 11:03:00", false},
		{"an opening of an earlier time in parallel", "", map[string]time.Time{"close": at("11:05:20"), "open-coupler": at("09:00:00")}, nil, checks.Pass, "so far 40 s", false},
		{"no step recorded", "", nil, map[string]string{"closed_at": "10:57"}, checks.Pass, "so far 540 s", true},
		{"no step recorded and nothing typed", "", nil, nil, checks.Missing, "closed in parallel at was not answered", true},
		{"a hold that was taken before the device was proved across", cross, map[string]time.Time{"close": at("08:05:20")}, map[string]string{"closed_at": "11:02"}, checks.Pass, "so far 240 s", true},
		{"a local clock set back by an hour between", "", map[string]time.Time{"close": at("09:10:00").In(time.FixedZone("", 7200))}, map[string]string{"now_at": "2026-05-12T09:18:00+00:00"}, checks.Fail, "4080 s is above", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, check := parallelPlan(t, c.between)
			in := checks.Input{Plan: p, Check: check, Answers: checks.Answers{}, Before: checks.Pasts{}, At: at("12:30:00"), Steps: c.steps}
			in.Answers = shared(t, in, c.typed)
			f, _ := checks.FieldNamed(in.Form(), "closed_at")
			if f.Need != c.asked || f.Known == c.asked {
				t.Errorf("closed_at: need %v, known %v; asked is %v", f.Need, f.Known, c.asked)
			}
			got := checks.Judge(in)
			if got.Verdict != c.want || !cases.AnyReason("load-share", got, c.says) {
				t.Errorf("%s, want %s with %q; reasons %q", got.Verdict, c.want, c.says, got.Reasons)
			}
		})
	}
}

// Power factors are asked only where the currents do not decide.
func TestLoadShare_factorsAsked(t *testing.T) {
	p, check := parallelPlan(t, "")
	in := checks.Input{Plan: p, Check: check, Answers: checks.Answers{}, Before: checks.Pasts{}, At: time.Date(2026, 5, 12, 11, 30, 0, 0, time.UTC)}
	for _, c := range []struct {
		name  string
		typed map[string]string
		asked bool
	}{
		{"432 + 52 A is far under the rating", nil, false},
		{"T2 gives away 350 of 900 A", map[string]string{"t2_i1": "900", "coupler_i1": "350"}, true},
		{"the same with section B read", map[string]string{"t2_i1": "900", "coupler_i1": "350", "section_b_i1": "600"}, false},
	} {
		in.Answers = shared(t, in, c.typed)
		for _, key := range []string{"t1_pf", "t2_pf", "coupler_pf"} {
			if f, ok := checks.FieldNamed(in.Form(), key); !ok || f.Need || f.Known == c.asked {
				t.Errorf("%s: %s needed %v, known %v; asked is %v", c.name, key, f.Need, f.Known, c.asked)
			}
		}
	}
	in.Answers = checks.Answers{}
	var asked []string
	for _, f := range in.Form() {
		if strings.HasSuffix(f.Key, "pf") && !f.Known {
			asked = append(asked, f.Key)
		}
	}
	if strings.Join(asked, " ") != "pf" {
		t.Errorf("before anything is answered %q are asked, want pf", asked)
	}
}
