package plan_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// The words of the trade in an instrument's name, or what it reads, tell what it is.
func TestMeter_sortOf(t *testing.T) {
	volts, low, high := []plan.Range{{To: quantity.Amount{Of: "voltage", Value: 600}}}, quantity.Volt(12), quantity.Volt(1000)
	for _, c := range []struct {
		m    plan.Meter
		want string
	}{
		{plan.Meter{Name: "proving unit LV and HV"}, "proving unit"},
		{plan.Meter{Name: "proving unit for voltage detectors", LowRating: &low, HighRating: &high}, "proving unit"},
		{plan.Meter{ID: "prove-1", Name: "grey box"}, "proving unit"},
		{plan.Meter{Name: "self-proving voltage detector"}, "voltage detector"},
		{plan.Meter{Name: "two-pole voltage detector with phase rotation"}, "voltage detector"},
		{plan.Meter{ID: "prove-tester", Name: "two-pole tester"}, "voltage detector"},
		{plan.Meter{Name: "LV proving tester", LowRating: &low, HighRating: &high}, "voltage detector"},
		{plan.Meter{Name: "known live point at MB-A"}, "known live point"},
		{plan.Meter{Name: "HV tester", LowRating: &low, HighRating: &high}, "voltage detector"},
		{plan.Meter{Name: "two-pole tester", Ranges: volts}, "voltage detector"},
		{plan.Meter{Name: "multimeter", Ranges: volts}, "multimeter"},
		{plan.Meter{Name: "clamp ammeter"}, "clamp"},
		{plan.Meter{Name: "grey box", Ranges: []plan.Range{{To: quantity.Amount{Of: "torque", Value: 100}}}}, "torque tool"},
		{plan.Meter{Name: "proving unit", Ranges: []plan.Range{{To: quantity.Amount{Of: "torque", Value: 100}}}}, "torque tool"},
		{plan.Meter{Name: "thermal camera"}, "thermometer"},
		{plan.Meter{Name: "insulation resistance tester"}, "insulation tester"},
		{plan.Meter{Name: "resistance meter for windings and joints"}, "resistance meter"},
		{plan.Meter{Name: "calibration set"}, ""},
		{plan.Meter{Name: "grey box", Ranges: volts}, "other"},
		{plan.Meter{Name: "grey box"}, ""},
		{plan.Meter{Name: "proving unit", Sort: "multimeter"}, "multimeter"},
	} {
		if got := c.m.SortOf(); got != c.want {
			t.Errorf("%s %q: %q, want %q", c.m.ID, c.m.Name, got, c.want)
		}
	}
}

// The plan accepts the sorts that judgements know, and no others.
func TestMeter_sortsOfThePlan(t *testing.T) {
	var names []string
	for _, s := range plan.InstrumentSorts {
		names = append(names, s.Name)
	}
	for _, f := range plan.FieldsOf(reflect.ValueOf(&plan.Meter{}).Elem()) {
		if f.Name == "sort" {
			accepted := slices.Clone(f.One)
			slices.Sort(accepted)
			slices.Sort(names)
			if !slices.Equal(accepted, names) {
				t.Errorf("the plan accepts %q, judgements know %q", accepted, names)
			}
			return
		}
	}
	t.Error("a meter has no sort")
}

// A measurement category below III is too low for any live LV work (IEC 61010-1);
// what states none is looked at. An instrument whose sort reads no such thing shows
// nothing.
func TestInstrument_liveKinds(t *testing.T) {
	for _, kind := range []string{"lv-volts", "unbalance", "sync", "rotation", "cross-volts", "parallel-balance", "load-share", "after-opening"} {
		for _, c := range []struct {
			change        map[string]any
			says, caution string
		}{
			{map[string]any{"category": "II"}, "is of measurement category II: at least III is wanted", ""},
			{map[string]any{"category": "III"}, "", ""},
			{map[string]any{}, "", "states no measurement category"},
			{map[string]any{"name": "torque wrench", "sort": "torque tool", "ranges": nil}, "torque wrench is a torque tool, which", ""},
		} {
			f := cases.Read(t, kind)
			found, err := withInstruments(f, t, c.change)
			if err != nil {
				if c.says == "" || !strings.Contains(err.Error(), c.says) {
					t.Errorf("%s with %v: %v", kind, c.change, err)
				}
				continue
			}
			if said := cases.AnyReason(kind, found, c.says); c.says != "" && !said || c.says == "" && found.Verdict != checks.Pass {
				t.Errorf("%s with %v: %s, %q; want %q", kind, c.change, found.Verdict, found.Reasons, c.says)
			}
			if c.says != "" && found.Verdict == checks.Pass {
				t.Errorf("%s with %v passes", kind, c.change)
			}
			if cautions := strings.Join(cases.ToldCautions(plan.TraitsNamed(kind), found), "\n"); !strings.Contains(cautions, c.caution) {
				t.Errorf("%s with %v: cautions %q, want %q", kind, c.change, cautions, c.caution)
			}
		}
	}
}

// withInstruments judges a kind's base trial with every instrument changed alike.
func withInstruments(f cases.File, t *testing.T, change map[string]any) (checks.Finding, error) {
	t.Helper()
	set := map[string]any{}
	for i := range f.Base["instruments"].([]any) {
		for key, value := range change {
			set["instruments."+string(rune('0'+i))+"."+key] = value
		}
	}
	trial, err := plan.LoadTrial(f.Kind+".json", f.Trial(t, set))
	if err != nil {
		return checks.Finding{}, err
	}
	_, found, err := checks.JudgeTrial(trial)
	return found, err
}

// A planned instrument that reads nothing of what is asked is refused before the
// work, for every kind that reads by one.
func TestPlannedInstrument_readsNothing(t *testing.T) {
	for _, kind := range []string{"lv-volts", "measure", "unbalance", "cross-volts", "parallel-balance", "sync", "load-share", "soak", "thermal"} {
		f := cases.Read(t, kind)
		checks := f.Base["checks"].([]any)
		last := string(rune('0' + len(checks) - 1))
		_, err := plan.LoadTrial("trial.json", f.Trial(t, map[string]any{"checks." + last + ".instrument": "tq",
			"instruments.0": map[string]any{"id": "tq", "name": "torque wrench", "serial": "T1", "due": "2027-01-31", "ranges": []any{map[string]any{"to": "100 N·m"}}}}))
		if err == nil || !strings.Contains(err.Error(), "torque wrench has no range that reads") {
			t.Errorf("%s planned with a torque wrench: %v", kind, err)
		}
	}
}
