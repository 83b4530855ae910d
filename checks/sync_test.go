package checks

import (
	"testing"
	"time"
)

// A sync check holds for its minutes from the time it was taken; a clock that
// runs ahead does not make it hold longer.
func TestSync_goesStale(t *testing.T) {
	f := readCases(t, "sync")
	for _, c := range []struct {
		name  string
		set   map[string]any
		until string
	}{
		{"five minutes from its time (common practice)", map[string]any{"answers.at": "09:58"}, "10:03:00"},
		{"the plan's minutes", map[string]any{"answers.at": "09:58", "given.fresh": "10 min"}, "10:08:00"},
		{"a time ahead of the clock", map[string]any{"answers.at": "10:06"}, "10:05:00"},
		{"a dead side", map[string]any{"answers.at": "09:58", "answers.state": deadLine}, "10:03:00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			trial, err := LoadTrial("sync.json", f.trial(t, c.set))
			if err != nil {
				t.Fatal(err)
			}
			_, found, err := trial.Judge()
			if err != nil {
				t.Fatal(err)
			}
			if got := found.Until.Format(time.TimeOnly); got != c.until {
				t.Errorf("good until %s, want %s", got, c.until)
			}
		})
	}
}
