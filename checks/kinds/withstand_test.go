package kinds

import (
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// predicted loads the base trial of a kind with some of its values set, and gives in
// lines what plan check prints of it.
func predicted(t *testing.T, kind string, set map[string]any) string {
	t.Helper()
	trial, err := plan.LoadTrial(kind+".json", cases.Read(t, kind).Trial(t, set))
	if err != nil {
		t.Fatal(err)
	}
	c := trial.Plan.Checks()[0]
	var out []string
	for _, p := range c.Kind.Predict(trial.Plan, c) {
		line := p.Name + ": " + p.Text + " (" + p.Source + ")"
		if p.Warn {
			line = "! " + line
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// The current that charges a capacitance, I = 2π·f·C·U, by hand: 0.25 µF at 12 kV takes
// 1.885 mA at 0.1 Hz and 942 mA at 50 Hz; with direct volts none lasts.
func TestWithstandPredict(t *testing.T) {
	for _, c := range []struct {
		set         map[string]any
		says, never string
	}{
		{map[string]any{"given.capacitance": "0.25 µF"}, "1.88 mA, which the set must give", ""},
		{map[string]any{"given.capacitance": "250 nF", "given.wave": "ac"}, "942 mA, which the set must give", ""},
		{nil, "L1 to L2+L3+E: 12 kV of very low frequency for at least 15 min, the current steady or falling, at most 3 mA at the end (site standard, example 8)", "which the set must give"},
		{map[string]any{"given.wave": "dc"}, "! wave: direct volts may shorten the life of extruded cable", "which the set must give"},
		{map[string]any{"given.plant": "switchgear"}, "voltage transformers and surge arresters do not bear the test volts", ""},
		{map[string]any{"given.plant": "switchgear", "given.opened": []string{"Voltage transformers"}}, "12 kV", "do not bear"},
	} {
		got := predicted(t, "withstand", c.set)
		if !strings.Contains(got, c.says) || c.never != "" && strings.Contains(got, c.never) {
			t.Errorf("%v predicts\n%s\nwant %q and never %q", c.set, got, c.says, c.never)
		}
	}
}

// No plan may ask of 11 kV plant more than four times its volts without a reason.
func TestWithstandFloors(t *testing.T) {
	plant := map[string]any{"boards": []any{map[string]any{"id": "HV", "nominal": "11 kV"}}}
	for volts, refused := range map[string]bool{"28 kV": false, "44 kV": false, "45 kV": true} {
		_, err := plan.LoadTrial("withstand.json", cases.Read(t, "withstand").Trial(t, map[string]any{"plant": plant, "given.source": "", "given.volts": volts}))
		if err == nil {
			t.Fatal("a check without a source is taken")
		}
		_, err = plan.LoadTrial("withstand.json", cases.Read(t, "withstand").Trial(t, map[string]any{"plant": plant, "given.source": "x", "given.volts": volts}))
		if (err != nil) != refused || refused && !strings.Contains(err.Error(), "45 kV is above 44 kV") {
			t.Errorf("%s on 11 kV: %v", volts, err)
		}
	}
	if in, _ := judgeChanged(t, "withstand", nil); len(checks.Rows(in.Form())) != 4 {
		t.Errorf("%d lines to type for one test, want 4: instrument, volts with time and currents, held, discharged", len(checks.Rows(in.Form())))
	}
}
