package kinds

import (
	"strings"
	"testing"
)

// A sixth and a quarter of a cycle are 3.33 and 5 ms at 50 Hz, 2.78 and 4.17 ms at 60 Hz;
// 70 % of 110 V is 77 V and 85 % 93.5 V, by hand.
func TestBreakerTimesPredict(t *testing.T) {
	coarse := []any{map[string]any{"id": "timer", "name": "timer", "serial": "X1", "due": "2027-01-31", "ranges": []any{map[string]any{"to": "1 s", "resolution": "1 ms"}, map[string]any{"to": "300 V"}}}}
	for _, c := range []struct {
		set  map[string]any
		says []string
	}{
		{nil, []string{"opening time of each pole: 30 to 45 ms", "closing time of each pole: at most 70 ms", "spread of the poles, opening: at most 3.33 ms (a sixth of a cycle, IEC 62271-100)",
			"spread of the poles, closing: at most 5 ms", "trip coil 1, minimum volts: operates at 77 V or below, 70 % of 110 V (IEC 62271-1)", "closing coil, minimum volts: operates at 93.5 V or below"}},
		{map[string]any{"system.frequency": "60 Hz"}, []string{"opening: at most 2.78 ms", "closing: at most 4.17 ms"}},
		{map[string]any{"instruments": coarse}, []string{"! timer: shows 1 ms steps, more than a fifth of the spread of 3.33 ms"}},
	} {
		got := predicted(t, "breaker-times", c.set)
		for _, says := range c.says {
			if !strings.Contains(got, says) {
				t.Errorf("%v predicts\n%s\nwant %q", c.set, got, says)
			}
		}
	}
}
