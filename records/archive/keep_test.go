package archive

import "testing"

// What is said of a job goes before its plan, that before all; of the same the later holds.
// Years count from the day of the newest entry, 29 February to 1 March.
func TestKeeps_until(t *testing.T) {
	s := State{Of: Of{Job: "j"}, Plan: "p", Last: "2024-02-29T23:00:00.000Z"}
	for name, c := range map[string]struct {
		all  Keeps
		want string
	}{
		"nothing":             {nil, ""},
		"all":                 {Keeps{{Number: 1, Years: 4}}, "2028-02-29"},
		"no such day":         {Keeps{{Number: 1, Years: 5}}, "2029-03-01"},
		"later of all":        {Keeps{{Number: 1, Years: 4}, {Number: 2, Years: 1}}, "2025-03-01"},
		"plan before all":     {Keeps{{Number: 1, Plan: "p", Years: 4}, {Number: 2, Years: 1}}, "2028-02-29"},
		"job before plan":     {Keeps{{Number: 1, Job: "j", Until: "2050-01-01"}, {Number: 2, Plan: "p", Years: 1}}, "2050-01-01"},
		"years of a job":      {Keeps{{Number: 1, Job: "j", Years: 10}}, "2034-03-01"},
		"another job or plan": {Keeps{{Number: 1, Job: "k", Until: "2050-01-01"}, {Number: 2, Plan: "q", Years: 1}}, ""},
	} {
		if got, _ := c.all.Until(s); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	if got, _ := (Keeps{{Number: 1, Years: 1}}).Until(State{}); got != "9999-12-31" {
		t.Errorf("without a time: %q", got)
	}
}
