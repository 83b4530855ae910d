package checks

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

// The words of the trade in an instrument's name, or what it reads, tell what it is.
func TestMeter_sortOf(t *testing.T) {
	volts, low, high := []Range{{To: Amount{Of: "voltage", Value: 600}}}, Volt(12), Volt(1000)
	for _, c := range []struct {
		m    Meter
		want string
	}{
		{Meter{Name: "proving unit LV and HV"}, "proving unit"},
		{Meter{Name: "proving unit for voltage detectors", LowRating: &low, HighRating: &high}, "proving unit"},
		{Meter{ID: "prove-1", Name: "grey box"}, "proving unit"},
		{Meter{Name: "self-proving voltage detector"}, "voltage detector"},
		{Meter{Name: "two-pole voltage detector with phase rotation"}, "voltage detector"},
		{Meter{ID: "prove-tester", Name: "two-pole tester"}, "voltage detector"},
		{Meter{Name: "LV proving tester", LowRating: &low, HighRating: &high}, "voltage detector"},
		{Meter{Name: "known live point at MB-A"}, "known live point"},
		{Meter{Name: "HV tester", LowRating: &low, HighRating: &high}, "voltage detector"},
		{Meter{Name: "two-pole tester", Ranges: volts}, "voltage detector"},
		{Meter{Name: "multimeter", Ranges: volts}, "multimeter"},
		{Meter{Name: "clamp ammeter"}, "clamp"},
		{Meter{Name: "grey box", Ranges: []Range{{To: Amount{Of: "torque", Value: 100}}}}, "torque tool"},
		{Meter{Name: "proving unit", Ranges: []Range{{To: Amount{Of: "torque", Value: 100}}}}, "torque tool"},
		{Meter{Name: "thermal camera"}, "thermometer"},
		{Meter{Name: "insulation resistance tester"}, "insulation tester"},
		{Meter{Name: "resistance meter for windings and joints"}, "resistance meter"},
		{Meter{Name: "calibration set"}, ""},
		{Meter{Name: "grey box", Ranges: volts}, "other"},
		{Meter{Name: "grey box"}, ""},
		{Meter{Name: "proving unit", Sort: "multimeter"}, "multimeter"},
	} {
		if got := c.m.sortOf(); got != c.want {
			t.Errorf("%s %q: %q, want %q", c.m.ID, c.m.Name, got, c.want)
		}
	}
}

// The plan accepts the sorts that judgements know, and no others.
func TestMeter_sortsOfThePlan(t *testing.T) {
	var names []string
	for _, s := range instrumentSorts {
		names = append(names, s.name)
	}
	for _, f := range fieldsOf(reflect.ValueOf(&Meter{}).Elem()) {
		if f.name == "sort" {
			accepted := slices.Clone(f.one)
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
			f := readCases(t, kind)
			found, err := f.withInstruments(t, c.change)
			if err != nil {
				if c.says == "" || !strings.Contains(err.Error(), c.says) {
					t.Errorf("%s with %v: %v", kind, c.change, err)
				}
				continue
			}
			if said := anyReason(kind, found, c.says); c.says != "" && !said || c.says == "" && found.Verdict != Pass {
				t.Errorf("%s with %v: %s, %q; want %q", kind, c.change, found.Verdict, found.Reasons, c.says)
			}
			if c.says != "" && found.Verdict == Pass {
				t.Errorf("%s with %v passes", kind, c.change)
			}
			if cautions := strings.Join(toldCautions(traitsNamed(kind), found), "\n"); !strings.Contains(cautions, c.caution) {
				t.Errorf("%s with %v: cautions %q, want %q", kind, c.change, cautions, c.caution)
			}
		}
	}
}

// withInstruments judges a kind's base trial with every instrument changed alike.
func (f caseFile) withInstruments(t *testing.T, change map[string]any) (Finding, error) {
	t.Helper()
	set := map[string]any{}
	for i := range f.Base["instruments"].([]any) {
		for key, value := range change {
			set["instruments."+string(rune('0'+i))+"."+key] = value
		}
	}
	trial, err := LoadTrial(f.Kind+".json", f.trial(t, set))
	if err != nil {
		return Finding{}, err
	}
	_, found, err := trial.Judge()
	return found, err
}

// A planned instrument that reads nothing of what is asked is refused before the
// work, for every kind that reads by one.
func TestPlannedInstrument_readsNothing(t *testing.T) {
	for _, kind := range []string{"lv-volts", "measure", "unbalance", "cross-volts", "parallel-balance", "sync", "load-share", "soak", "thermal"} {
		f := readCases(t, kind)
		checks := f.Base["checks"].([]any)
		last := string(rune('0' + len(checks) - 1))
		_, err := LoadTrial("trial.json", f.trial(t, map[string]any{"checks." + last + ".instrument": "tq",
			"instruments.0": map[string]any{"id": "tq", "name": "torque wrench", "serial": "T1", "due": "2027-01-31", "ranges": []any{map[string]any{"to": "100 N·m"}}}}))
		if err == nil || !strings.Contains(err.Error(), "torque wrench has no range that reads") {
			t.Errorf("%s planned with a torque wrench: %v", kind, err)
		}
	}
}
