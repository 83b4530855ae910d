package history_test

import (
	"maps"
	"slices"
	"strconv"
	"testing"

	"handback/checks"
	"handback/report/history"
)

// A view holds what stood when it was taken, of the checks above alone, whatever comes later.
func TestView(t *testing.T) {
	var log history.Log
	var order history.Order
	var first, second, third history.Past
	order.Put("a", &first)
	order.Put("b", &second)
	order.Put("c", &third)
	came := func(p *history.Past, word string) {
		p.Add(&log, checks.Past{Answers: checks.Answers{"x": {Word: word}}})
	}
	none := order.Above("c", &log)
	came(&first, "a1")
	one := order.Above("c", &log)
	came(&second, "b1")
	came(&first, "a2")
	both, top, taken := order.Above("c", &log), order.Above("a", &log), order.Above("gone", &log)
	came(&first, "a3")
	came(&third, "c1")
	for _, c := range []struct {
		name string
		is   checks.Earlier
		want map[string]string
	}{
		{"before any", none, map[string]string{}},
		{"after one", one, map[string]string{"a": "a1"}},
		{"after both", both, map[string]string{"a": "a2", "b": "b1"}},
		{"of the first", top, map[string]string{}},
		{"of one that is not in the order", taken, map[string]string{"a": "a2", "b": "b1"}},
		{"now", order.Above("c", &log), map[string]string{"a": "a3", "b": "b1"}},
	} {
		all := map[string]string{}
		for id, p := range c.is.All() {
			all[id] = p.Answers["x"].Word
		}
		if !maps.Equal(all, c.want) {
			t.Errorf("%s: %v, want %v", c.name, all, c.want)
		}
		for _, id := range []string{"a", "b", "c", "other"} {
			if p := c.is.Of(id); p.Taken() != slices.Contains(slices.Collect(maps.Keys(c.want)), id) || p.Answers["x"].Word != c.want[id] {
				t.Errorf("%s: %s came to %v, want %q", c.name, id, p.Answers, c.want[id])
			}
		}
	}
	if at, ok := order.Place("b"); at != 1 || !ok {
		t.Errorf("b stands at %d, %v", at, ok)
	}
}

// A view costs itself alone, however many checks there are above.
func TestView_allocates(t *testing.T) {
	var log history.Log
	var order history.Order
	for i := range 1000 {
		p := &history.Past{}
		p.Add(&log, checks.Past{Answers: checks.Answers{}})
		order.Put(strconv.Itoa(i), p)
	}
	var kept checks.Earlier
	if n := testing.AllocsPerRun(100, func() { kept = order.Above("999", &log) }); n > 1 || !kept.Of("500").Taken() {
		t.Errorf("%v allocations a view", n)
	}
}
