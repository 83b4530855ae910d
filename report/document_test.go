package report_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/report"
	"handback/testdata/rig"
)

func TestDocument_tells_the_whole_job(t *testing.T) {
	r := rig.Told(t)
	d := r.Document(r.Now.Add(time.Hour))
	var got []string
	say := func(format string, args ...any) { got = append(got, fmt.Sprintf(format, args...)) }
	say("%s, %d entries, last %s, %s", d.Job, d.Entries, d.Last, d.Overall.Words)
	for _, h := range d.Holds {
		say("hold %s: %s", h.ID, report.HoldWords(h))
	}
	for _, c := range d.Concessions {
		say("concession %s %s %s by %s: %s; %s", c.Check, c.Of, c.Verdict, c.Engineer, c.Finding, c.Reason)
	}
	for _, p := range d.Pages() {
		why := ""
		if p.Verdict != checks.Pass {
			why = ": " + p.Why
		}
		say("%s: %s%s", p.ID, p.State, why)
		for _, a := range p.Attempts {
			say("  attempt %d by %s, entry %d: %s, %q, %d readings, %d derived", a.Number, a.By, a.Entry, a.Verdict, a.Repeat, len(a.Readings), len(a.Derived))
			for _, x := range a.Readings {
				if x.Remark != "" {
					say("    %s %q, entry %d: %s", x.Label, x.Typed, x.Entry, x.Remark)
				}
			}
		}
	}
	for _, m := range d.Instruments {
		say("%s: in date %s, used in %q", m.ID, m.InDate, m.UsedIn)
	}
	want := []string{
		"pump-t1-1, 20 entries, last 2026-03-02 07:49:00 +01:00, not ready: 1 check and 1 hold point open",
		"hold energise: done 2026-03-02 07:36:00 +01:00 by Ada Example; ir accepted by Eva Muster, unsigned",
		"hold close: NOT DONE; nothing it waits for is open",
		"concession ir attempt 1 fail by Eva Muster: insulation tester (serial EX-300) was due for calibration on 2026-02-28: its readings do not count; tester compared with a resistor of 1 GΩ the same morning",
		"isolated: pass",
		`  attempt 1 by Ada Example, entry 3: pass, "", 4 readings, 0 derived`,
		"ir: fail, accepted under concession: insulation tester (serial EX-300) was due for calibration on 2026-02-28: its readings do not count",
		`  attempt 1 by Ada Example, entry 5: fail, "", 4 readings, 3 derived`,
		"hv: pass",
		`  attempt 1 by Ada Example, entry 10: pass, "", 2 readings, 1 derived`,
		`    HV line-to-line volts "11.20", entry 9: read − expected +0.20 kV`, // of 11 kV, the middle of the limits
		"volts: pass",
		`  attempt 1 by Ada Example, entry 12: fail, "", 7 readings, 11 derived`,
		`    L1-L2 "462.9", entry 11: read − expected +22.0 V`, // of 440.873 V, 11.2 kV on tap 2
		`    L2-L3 "463.2", entry 11: read − expected +22.3 V`,
		`    L3-L1 "462.5", entry 11: read − expected +21.6 V`,
		`    L1-N "267.2", entry 11: read − expected +12.7 V`, // of 254.538 V
		`    L2-N "267.3", entry 11: read − expected +12.8 V`,
		`    L3-N "267.0", entry 11: read − expected +12.5 V`,
		`  attempt 2 by Ada Example, entry 16: pass, "tap put back to 2", 7 readings, 11 derived`,
		`    L1-L2 "440.9", entry 13: read − expected 0.0 V`,
		`    L2-L3 "441.2", entry 13: read − expected +0.3 V`,
		`    L3-L1 "440.5", entry 13: read − expected −0.4 V`,
		`    L1-N "254.5", entry 13: read − expected 0.0 V`,
		`    L2-N "254.6", entry 13: read − expected +0.1 V`,
		`    L3-N "254.4", entry 15: read − expected −0.1 V; was 254.3, corrected: misread the last digit`,
		"earth-ref: pass",
		`  attempt 1 by Ada Example, entry 18: pass, "", 2 readings, 1 derived`,
		`    neutral to earth volts "0.8 V", entry 17: stored although in doubt: drifted between 0.7 and 0.9 while looked at`,
		"tidy: skipped: left to the morning",
		`dmm: in date yes, used in ["volts" "earth-ref"]`,
		`vt: in date yes, used in ["hv"]`,
		`old: in date no, used in ["ir"]`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestDocument_keeps_stops_that_were_cured(t *testing.T) {
	r := rig.NewLive(t)
	r.Wrapped("earth-ref", nil, func(w *checks.Work) {
		if w.Answers["value"].Value > 5 {
			w.Stop("do not close: the neutral floats")
		}
	})
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "7.1"})
	concede(r, "earth-ref", 1)
	outcome := func() string {
		d := r.Document(r.Now)
		if len(d.Stops) != 1 {
			t.Fatalf("%d stops, want 1", len(d.Stops))
		}
		return d.Stops[0].Outcome
	}
	if got, want := outcome(), "stands; a concession is recorded and does not lift it"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	r.Read("earth-ref", rig.Typed{"meter": "dmm", "value": "0.4"}, nil, "bond remade")
	r.Want(r.Judge("earth-ref", ""), checks.Pass)
	if got, want := outcome(), "followed by attempt 2: pass"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A reading is shown in the unit of its field whatever unit was typed.
func TestDocument_readings_stand_in_their_unit(t *testing.T) {
	r := rig.Told(t)
	for _, p := range r.Document(r.Now).Pages() {
		if p.ID != "ir" {
			continue
		}
		want := map[string]float64{"p1": 850, "p2": 1200, "p3": 910}
		for _, x := range p.Attempts[0].Readings {
			if v, ok := want[x.Key]; ok && (x.Value != v || x.Unit != "MΩ" || !x.Number) {
				t.Errorf("%s: %v %s, want %v MΩ", x.Key, x.Value, x.Unit, v)
			}
			delete(want, x.Key)
		}
		if len(want) > 0 {
			t.Errorf("not shown: %v", want)
		}
		return
	}
	t.Fatal("no page of check ir")
}
