package recall_test

import (
	"bytes"
	"math"
	"slices"
	"testing"
	"time"

	"handback/checks"
	"handback/report"
	"handback/report/recall"
	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }

// question asks after the multimeter of pump.yaml with errors as they are typed.
func question(t *testing.T, serial string, errors ...string) recall.Question {
	t.Helper()
	q := recall.Question{Serial: serial}
	for _, text := range errors {
		e, err := recall.ParseError(text)
		if err != nil {
			t.Fatal(err)
		}
		q.Errors = append(q.Errors, e)
	}
	return q
}

// earthRef is a job of pump.yaml in which the neutral was read to earth, with the limit
// of 5 V, by the multimeter alone: ±(0.5 % + 3 digits of 0.01 V) in its range to 60 V.
func earthRef(t *testing.T, rule, volts string) *rig.Rig {
	t.Helper()
	data := bytes.Replace(rig.PlanText(t, "pump.yaml"), []byte("people:\n"), []byte("rule: "+rule+"\npeople:\n"), 1)
	data = bytes.Replace(data, []byte("  - hold: energise\n    action: Close the HV breaker of T1\n"), nil, 1)
	r := rig.Of(t, "pump.yaml", data)
	r.Read("earth-ref", rig.Typed{"meter": "dmm", "value": volts}, rig.Typed{"value": "seen so"}, "")
	r.Judge("earth-ref", "")
	return r
}

// The expected numbers are worked by hand: with the reading x, the error e and its
// uncertainty u, the corrected value is c = x − e, its half-width a = 0.5 % of c + 0.03 V + u,
// which is U of a single reading, and it passes when c + a is not above 5 V and fails when
// c − a is.
func TestJudge_verdicts(t *testing.T) {
	for name, c := range map[string]struct {
		rule, volts string
		errors      []string
		then, now   checks.Verdict
		why         string
		is          float64 // the corrected value, as judged
	}{
		"still within":                {"guarded", "4.8 V", []string{"+2 %"}, checks.Pass, checks.Pass, "stands", 4.704},
		"now in the guard band":       {"guarded", "4.8 V", []string{"-4 %"}, checks.Pass, checks.Inconclusive, "lost", 4.992},         // a = 0.055
		"now beyond":                  {"guarded", "4.8 V", []string{"-10 %"}, checks.Pass, checks.Fail, "lost", 5.28},                 // 5.28 − 0.0564 = 5.2236
		"by an amount":                {"guarded", "4.8 V", []string{"-0.5 V"}, checks.Pass, checks.Fail, "lost", 5.3},                 //
		"uncertain correction":        {"guarded", "4.8 V", []string{"+2 % ± 6 %"}, checks.Pass, checks.Inconclusive, "lost", 4.704},   // 4.704 + 0.0535 + 0.2822 = 5.04
		"certain enough":              {"guarded", "4.8 V", []string{"+2 % ± 4 %"}, checks.Pass, checks.Pass, "stands", 4.704},         // 4.704 + 0.0535 + 0.1882 = 4.946
		"a bound that keeps it":       {"guarded", "4.8 V", []string{"±2 %"}, checks.Pass, checks.Pass, "stands", 4.8},                 // 4.8 + 0.054 + 0.096 = 4.95
		"a bound that does not":       {"guarded", "4.8 V", []string{"±5 %"}, checks.Pass, checks.Inconclusive, "lost", 4.8},           // 4.8 + 0.054 + 0.24 = 5.094
		"simple, to the limit":        {"simple", "4.8 V", []string{"-0.2 V"}, checks.Pass, checks.Pass, "stands", 5},                  // includes its own value
		"simple, past the limit":      {"simple", "4.8 V", []string{"-0.21 V"}, checks.Pass, checks.Fail, "lost", 5.01},                //
		"simple, bound to the limit":  {"simple", "4.8 V", []string{"±0.2 V"}, checks.Pass, checks.Pass, "stands", 4.8},                // 4.8 + 0.2
		"simple, bound past it":       {"simple", "4.8 V", []string{"±0.21 V"}, checks.Pass, checks.Inconclusive, "lost", 4.8},         // 4.8 + 0.21
		"simple, uncertain":           {"simple", "4.8 V", []string{"-0.1 V ± 0.11 V"}, checks.Pass, checks.Inconclusive, "lost", 4.9}, // 4.9 + 0.11
		"no pass is given":            {"guarded", "5.4 V", []string{"+10 %"}, checks.Fail, checks.Inconclusive, "gives-none", 4.86},   //
		"failed and fails":            {"guarded", "5.4 V", []string{"+2 %"}, checks.Fail, checks.Fail, "as-before", 5.292},            // 5.292 − 0.0565
		"inconclusive, now fails":     {"guarded", "5.0 V", []string{"-3 %"}, checks.Inconclusive, checks.Fail, "otherwise", 5.15},     // 5.15 − 0.0558
		"the error is not known":      {"guarded", "4.8 V", nil, checks.Pass, checks.Inconclusive, "error-unknown", 4.8},               //
		"not known, failed":           {"guarded", "5.4 V", nil, checks.Fail, checks.Fail, "error-unknown", 5.4},                       //
		"of other readings":           {"guarded", "4.8 V", []string{"10 V to 60 V: +1 %"}, checks.Pass, checks.Inconclusive, "not-covered", 4.8},
		"of another quantity":         {"guarded", "4.8 V", []string{"+0.1 A"}, checks.Pass, checks.Inconclusive, "not-covered", 4.8},
		"spans, the worse where both": {"guarded", "4.8 V", []string{"to 4.8 V: +1 %", "4.8 V to 60 V: -10 %"}, checks.Pass, checks.Fail, "lost", 5.28},
	} {
		t.Run(name, func(t *testing.T) {
			r := earthRef(t, c.rule, c.volts)
			got := recall.Judge(r.Job(), question(t, "EX-100", c.errors...))
			if len(got) != 1 {
				t.Fatalf("%d attempts are touched", len(got))
			}
			if x := got[0]; x.Then != c.then || x.Now != c.now || x.Why.Code != c.why {
				t.Errorf("%s, now %s (%s), want %s, now %s (%s)", x.Then, x.Now, x.Why.Code, c.then, c.now, c.why)
			} else if is := x.Values[0].Is.Value; !(math.Abs(is-c.is) <= 1e-9) {
				t.Errorf("judged at %v, want %v", is, c.is)
			}
		})
	}
}

// A reading that leaves the ranges of its instrument once it is corrected is not judged by an
// accuracy that nobody stated.
func TestJudge_leaves_range(t *testing.T) {
	r := earthRef(t, "guarded", "4.8 V")
	for i := range r.Plan.Meters {
		if m := &r.Plan.Meters[i]; m.ID == "dmm" {
			m.Ranges = m.Ranges[1:]
			m.Ranges[0].To.Value = 4.9
		}
	}
	if got := recall.Judge(r.Job(), question(t, "EX-100", "-3 %")); len(got) != 1 || got[0].Now != checks.Inconclusive || got[0].Why.Code != "leaves-range" {
		t.Errorf("touched: %+v", got)
	}
}

// Who read with it and when is told by the serial number and the time of reading.
func TestJudge_which(t *testing.T) {
	r := earthRef(t, "guarded", "4.8 V")
	q := question(t, "ex - 100", "-10 %")
	for name, c := range map[string]struct {
		from, to time.Time
		touched  int
	}{
		"all the time": {time.Time{}, time.Time{}, 1},
		"that day":     {rig.Dawn, r.Now.Add(time.Hour), 1},
		"before":       {time.Time{}, rig.Dawn, 0},
		"after":        {r.Now.Add(time.Hour), time.Time{}, 0},
	} {
		q.From, q.To = c.from, c.to
		if got := recall.Judge(r.Job(), q); len(got) != c.touched {
			t.Errorf("%s: %d attempts are touched, want %d", name, len(got), c.touched)
		}
	}
	if got := recall.Judge(r.Job(), question(t, "EX-101", "-10 %")); len(got) != 0 {
		t.Errorf("another serial number: %+v", got)
	}
}

// told is the story of rig.Told in which the HV volts are read with an instrument that reads
// wrong: what rests on them is judged again too, in the attempt that counts and in the one
// that was repeated.
func TestJudge_rests(t *testing.T) {
	r := rig.Told(t)
	r.By = "ada"
	j := r.Job()
	// The predicted LV volts follow the HV volts: 11.2 kV at 433/11 000 and tap 2 are 440.9 V. Read
	// 5 % too high, the HV volts were 10.64 kV and 418.8 V was to be expected: 440.9 V is 5.3 %
	// above that, and 2 % is accepted.
	got := recall.Judge(j, question(t, "EX-200", "+5 %"))
	var seen []string
	for _, x := range got {
		seen = append(seen, x.State.Check.ID)
		switch {
		case x.State.Check.ID == "hv" && (!x.Direct || x.Now != checks.Pass):
			t.Errorf("hv: %+v", x)
		case x.State.Check.ID == "volts" && x.Attempt.Number == 2:
			if x.Direct || x.Then != checks.Pass || x.Now != checks.Fail || x.Why.Code != "lost" || !x.Newest {
				t.Errorf("volts: %s, now %s (%s), read with it: %v", x.Then, x.Now, x.Why.Code, x.Direct)
			}
		}
	}
	if want := []string{"hv", "volts", "volts"}; !slices.Equal(seen, want) {
		t.Errorf("touched: %v, want %v", seen, want)
	}
	if unknown := recall.Judge(j, question(t, "EX-200")); len(unknown) < 2 || unknown[len(unknown)-1].Now != checks.Inconclusive || unknown[len(unknown)-1].Why.Code != "rests-on-unknown" {
		t.Errorf("an error that is not known: %+v", unknown)
	}
}

// An attempt is judged again by what it was judged by, whatever was put right later: the HV
// volts that a technician corrected after the LV volts were judged are not theirs.
func TestJudge_corrected_later(t *testing.T) {
	values := func(r *rig.Rig) (out []float64) {
		for _, x := range recall.Judge(r.Job(), question(t, "EX-200", "+5 %")) {
			if x.State.Check.ID == "volts" && x.Newest {
				for _, v := range x.Values {
					out = append(out, v.Is.Value)
				}
			}
		}
		return out
	}
	r := rig.Told(t)
	before := values(r)
	r.Put(report.EntryCorrect, "hv", report.Corrected{Attempt: 1, Answers: r.Answers("hv", rig.Typed{"value": "11.02"}, nil), Why: "misread the second digit"})
	r.Judge("hv", "after a correction")
	if after := values(r); len(before) == 0 || !slices.EqualFunc(before, after, checks.SameNumber) {
		t.Errorf("judged again with %v, before the correction with %v", after, before)
	}
}

// What hung on the verdict: an acceptance, the hold point released on it, the next attempt.
func TestJudge_follow(t *testing.T) {
	r := rig.Told(t)
	taken := report.Stepped{Hold: "close", Action: "Close the LV incomer of T1", Taken: r.Now.Format(time.RFC3339)}
	r.Put(report.EntryStep, "", taken)
	codes := func(x recall.Touched) (out []string) {
		for _, s := range x.Follow {
			out = append(out, s.Code)
		}
		return out
	}
	got := recall.Judge(r.Job(), question(t, "EX-100", "-90 %"))
	for _, x := range got {
		var want []string
		switch {
		case x.State.Check.ID == "earth-ref":
			want = nil // 0.8 V comes to 1.52 V and passes
		case x.Attempt.Number == 1:
			want = nil // fails as before
		default:
			want = []string{"hold-released"}
		}
		if !slices.Equal(codes(x), want) {
			t.Errorf("%s, attempt %d, %s, now %s: %v, want %v", x.State.Check.ID, x.Attempt.Number, x.Then, x.Now, codes(x), want)
		}
	}
	ir := recall.Judge(r.Job(), question(t, "EX-300", "+95 %"))
	if len(ir) != 1 || !slices.Equal(codes(ir[0]), []string{"accepted"}) || ir[0].Now != checks.Fail {
		t.Errorf("insulation: %+v", ir)
	}
	r.Put(report.EntryBad, "", report.FoundBad{Serial: "EX-100", Since: rig.Dawn.Format(time.RFC3339), Why: "reads low"})
	for _, x := range recall.Judge(r.Job(), question(t, "EX-100", "-90 %")) {
		if x.Newest && x.Now != x.Then && !slices.Contains(codes(x), "lapsed") {
			t.Errorf("%s: %v, and the job knows of the instrument", x.State.Check.ID, codes(x))
		}
	}
}

// What passes with no error and with all of it is no pass where it does not with half of it.
func TestJudge_between(t *testing.T) {
	r := earthRef(t, "guarded", "4 V")
	r.Wrapped("earth-ref", nil, func(w *checks.Work) {
		if x := w.Answers["value"].Value; x < 3.9 && x > 3.3 {
			w.Say(checks.Fail, "value", "no")
		}
	})
	got := recall.Judge(r.Job(), question(t, "EX-100", "+20 %"))
	if len(got) != 1 || got[0].Then != checks.Pass || got[0].Now != checks.Inconclusive || got[0].Why.Code != "in-between" {
		t.Errorf("touched: %+v", got)
	}
}
