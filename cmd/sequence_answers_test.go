package cmd

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pgregory.net/rapid"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
)

// keysOfPlan copies a plan and gives each of its people a key, in a file of their id
// beside it.
func keysOfPlan(from, to string) error {
	data, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	text := string(data)
	for id, role := range map[string]string{"ada": "technician", "ben": "engineer", "bea": "engineer", "cleo": "owner"} {
		seed := sha256.Sum256([]byte("invented key of " + id))
		file, public, err := chain.NewKeyFile(seed[:], id, nil)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(filepath.Dir(to), id), file, 0o600); err != nil {
			return err
		}
		_, rest, ok := strings.Cut(text, "{id: "+id+",")
		if !ok {
			return fmt.Errorf("%s: no person %s", from, id)
		}
		text = strings.Replace(text, rest, strings.Replace(rest, "role: "+role+"}", "role: "+role+", keys: ["+chain.KeyLine(public)+"]}", 1), 1)
	}
	return os.WriteFile(to, []byte(text), 0o600)
}

// soundReadings are those of a job that goes well, by check and field. What a form asks
// beside them is answered with its default or example.
var soundReadings = map[string]string{
	"dead.before": "live", "dead.after": "live", "dead.l1e": "not live", "dead.l2e": "not live", "dead.l3e": "not live",
	"taps.found_l1": "3", "taps.found_l2": "3", "taps.found_l3": "3", "taps.left_l1": "4", "taps.left_l2": "4", "taps.left_l3": "4",
	"bolts.j1_torque": "45", "bolts.j2_torque": "44.5",
	"present.l1": "lit", "present.l2": "lit", "present.l3": "lit",
	"hv.value": "10.98",
	"lv.l1l2":  "432.6", "lv.l2l3": "427.9", "lv.l3l1": "429.5", "lv.l1n": "249.5", "lv.l2n": "248.4", "lv.l3n": "246.9",
	"sync.u_a": "429.1", "sync.u_b": "430.0", "sync.f_a": "50.01", "sync.f_b": "50.01", "sync.angle": "0.4",
	"share.t1_i1": "471", "share.t1_i2": "463", "share.t1_i3": "466", "share.t2_i1": "432", "share.t2_i2": "426", "share.t2_i3": "429",
	"share.coupler_i1": "52", "share.coupler_i2": "49", "share.coupler_i3": "50", "share.direction": "B to A",
	"after.section_a_l1l2": "424.8", "after.section_a_l2l3": "424.1", "after.section_a_l3l1": "425.3",
	"after.section_b_l1l2": "425.9", "after.section_b_l2l3": "425.0", "after.section_b_l3l1": "426.2",
	"after.t1_i1": "522", "after.t1_i2": "514", "after.t1_i3": "515", "after.t2_i1": "381", "after.t2_i2": "378", "after.t2_i3": "380",
}

// soundAnswer is what a person would type for a field if all is well, "" to leave it out.
func (s *sequence) soundAnswer(c *plan.Check, f checks.Field) string {
	text, known := soundReadings[c.ID+"."+f.Key]
	back := func(d time.Duration) string { return s.now.Add(-d).Format(time.RFC3339) }
	switch {
	case f.Key == "before_at":
		return back(6 * time.Minute)
	case f.Key == "points_at":
		return back(3 * time.Minute)
	case f.Key == "after_at":
		return back(2 * time.Minute)
	case f.Key == "closed_at":
		if st, ok := s.job.Steps["close"]; ok {
			return st.Taken.Format(time.RFC3339)
		}
		return back(time.Minute)
	case f.Sort == checks.Instant:
		return back(0)
	case f.Sort == checks.Initials:
		return "ada"
	case f.Sort == checks.MeterUsed:
		return s.inDate(f.Default)
	case known:
		return text
	case !f.Need:
		return ""
	}
	return f.Example
}

// inDate is an instrument, or its double when it is out of date or was found bad.
func (s *sequence) inDate(id string) string {
	double, has := map[string]string{"dmm": "dmm2", "tester": "spare"}[id]
	m := s.plan.Meter(id)
	if !has || m == nil {
		return id
	}
	for _, b := range s.job.Bad {
		if b.Serial == m.Serial {
			return double
		}
	}
	if !m.InDate(s.now) {
		return double
	}
	return id
}

// nonsense is another answer of a field's sort: wrong, impossible, or merely another.
func (s *sequence) nonsense(f checks.Field) string {
	var out []string
	switch f.Sort {
	case checks.Measured:
		out = []string{"0", "-5", "42.79", "432", "36.5", "11.4", "1e9", "> 3", "seven", "1,234", "0.0001"}
	case checks.Count:
		out = []string{"0", "1", "2", "3", "-1"}
	case checks.Choice:
		out = append(slices.Clone(f.Options), "perhaps")
	case checks.Instant:
		out = []string{"now", "00:01", "01:30", "23:59", "25:00", s.now.Add(-3 * time.Hour).Format(time.RFC3339), s.now.Add(20 * time.Minute).Format(time.RFC3339)}
	case checks.MeterUsed:
		for _, m := range s.plan.Meters {
			out = append(out, m.ID)
		}
	case checks.Initials:
		out = []string{"ada", "ben", "bea", "nobody"}
	default:
		out = []string{"words"}
	}
	return rapid.SampledFrom(out).Draw(s.rt, "value")
}

// pairs are key=value arguments for a check: all that is needed, changed by change.
func (s *sequence) pairs(c *plan.Check, change func(form []checks.Field, values map[string]string)) []string {
	form := s.job.Input(c, s.now).Form()
	values := map[string]string{}
	for _, f := range form {
		if v := s.soundAnswer(c, f); v != "" {
			values[f.Key] = v
		}
	}
	if change != nil {
		change(form, values)
	}
	var out []string
	for _, f := range form {
		if v, ok := values[f.Key]; ok {
			out = append(out, f.Key+"="+v)
		}
	}
	return out
}
