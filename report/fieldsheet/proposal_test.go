package fieldsheet

import (
	"strings"
	"testing"
	"time"

	"handback/testdata/rig"
)

// Attempts follow one another: values for one that leaves a gap are refused, be it by
// a single number.
func TestPropose_gapOfAttempts(t *testing.T) {
	low := rig.Typed{"meter": "dmm", "value": "1.2"}
	for _, c := range []struct {
		name    string
		story   func(*rig.Rig)
		attempt int
		want    string // of the refusal; "" where it is taken
	}{
		{"the first", func(*rig.Rig) {}, 1, ""},
		{"the second before the first", func(*rig.Rig) {}, 2, "attempt 2 of check earth-ref does not follow: the job has 0"},
		{"the second", func(r *rig.Rig) { r.Take("earth-ref", low) }, 2, ""},
		{"the third after the first", func(r *rig.Rig) { r.Take("earth-ref", low) }, 3, "attempt 3 of check earth-ref does not follow: the job has 1"},
		{"the second while the first is begun", func(r *rig.Rig) { r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "") }, 2, "attempt 2 of check earth-ref does not follow: the job has 1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.New(t, "pump.yaml")
			c.story(r)
			filled := []Filled{{Place: "A1", Check: "earth-ref", Attempt: c.attempt, Key: "value", Typed: "1.3"}}
			p, errs := Propose(r.Job(), filled, ReadingOptions{Now: r.Now, After: r.Now.Add(-time.Hour), Repeat: "lead changed"})
			if c.want != "" {
				if len(errs) != 1 || !strings.Contains(errs[0].Error(), c.want) {
					t.Errorf("%v, want one that says %q", errs, c.want)
				}
				return
			}
			if len(errs) > 0 || len(p.Checks) != 1 || p.Checks[0].Attempt != c.attempt || p.Checks[0].Answers["value"].Value != 1.3 {
				t.Errorf("%+v, %v", p, errs)
			}
		})
	}
}

// A value that is given twice is nobody's to choose from.
func TestPropose_givenTwice(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	filled := []Filled{{Place: "A1", Check: "earth-ref", Key: "value", Typed: "1.3"}, {Place: "A2", Check: "earth-ref", Key: "value", Typed: "1.4"}}
	_, errs := Propose(r.Job(), filled, ReadingOptions{Now: r.Now, After: r.Now.Add(-time.Hour)})
	if len(errs) != 1 || errs[0].Place != "A2" || !strings.Contains(errs[0].Cause, "value of check earth-ref is given at A1 already") {
		t.Errorf("%v", errs)
	}
}
