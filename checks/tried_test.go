package checks

import (
	"strings"
	"testing"
)

// A meter must be proved on a known live source before and after use (common
// practice; HSE GS38 asks it of voltage indicators).
func TestFunctionCheck(t *testing.T) {
	f := readCases(t, "lv-volts")
	judge := func(set map[string]any) Finding {
		t.Helper()
		set["checks.1.function_check"] = "yes"
		trial, err := LoadTrial("trial.json", f.trial(t, set))
		if err != nil {
			t.Fatal(err)
		}
		_, found, err := trial.Judge()
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	for _, c := range []struct {
		before, after any
		want          Verdict
		says          string
	}{
		{"yes", "yes", Pass, "read right on a known source before"},
		{"no", "yes", Void, "did not read right on a known source before the readings: nothing it showed counts"},
		{"yes", "no", Void, "did not read right on a known source after"},
		{"yes", nil, Missing, "instrument read right on a known source after the readings was not answered"},
		{nil, "yes", Missing, "before the readings was not answered"},
	} {
		set := map[string]any{}
		for key, v := range map[string]any{"answers.tried_before": c.before, "answers.tried_after": c.after} {
			if v != nil {
				set[key] = v
			}
		}
		got := judge(set)
		if got.Verdict != c.want || !anyReason("measure", got, c.says) {
			t.Errorf("before %v, after %v: %s, %q; want %s saying %q", c.before, c.after, got.Verdict, got.Reasons, c.want, c.says)
		}
	}
}

func TestFunctionCheck_needsAnInstrument(t *testing.T) {
	f := readCases(t, "confirm")
	_, err := LoadTrial("trial.json", f.trial(t, map[string]any{"checks.0.function_check": "yes"}))
	if err == nil || !strings.Contains(err.Error(), "uses no instrument that could be tried") {
		t.Errorf("error %v", err)
	}
}
