package grid

import "testing"

// Parts that could be mistaken for one another have names of their own.
func TestNamed(t *testing.T) {
	for _, c := range []struct{ part, want string }{
		{"volts", "volts"}, {"earth-ref", "earth_ref"}, {"band_l1l2", "band_l1l2"}, {"a--b", "hex612d2d62"}, {"a-_b", "hex612d5f62"},
		{"a_-b", "hex615f2d62"}, {"a__b", "hex615f5f62"}, {"T1", "hex5431"}, {"", "hex"}, {"hex61", "hex6865783631"}, {"_a", "hex5f61"}, {"ä", "hexc3a4"},
	} {
		if got := Named("value", c.part, 2); got != "handback_value__"+c.want+"__2" {
			t.Errorf("%q: %s", c.part, got)
		}
	}
}
