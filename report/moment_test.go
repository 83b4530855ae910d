package report

import (
	"testing"
	"time"

	"handback/checks"
)

// A time of day and "now" were completed when they were typed: the date they got
// cannot be told from the typed words, all else can.
func TestOtherMoment(t *testing.T) {
	at := time.Date(2026, 5, 12, 9, 0, 30, 0, time.FixedZone("", 3600))
	for _, c := range []struct {
		typed, word string
		sound       bool
	}{
		{"now", "2026-05-12T09:00:20+01:00", true}, {"now", "2026-05-12T09:30:00+01:00", false}, {"NOW", "2026-05-10T09:00:00+01:00", false}, {"now", "soon", false},
		{"08:55", "2026-05-12T08:55:00+01:00", true}, {"8:55", "2026-05-12T08:55:00+01:00", true}, {"23:58", "2026-05-11T23:58:00+01:00", true}, {"08:55", "2026-05-12T08:50:00+01:00", false},
		{"08:55", "2026-05-12T08:55:40+01:00", false}, {"08:55:40", "2026-05-12T08:55:40+01:00", true}, {"08:55:40", "2026-05-12T08:55:41+01:00", false},
		{"2026-05-12 08:55", "2026-05-12T08:55:00+01:00", true}, {"2026-05-11 08:55", "2026-05-12T08:55:00+01:00", false},
		{"2026-05-12T07:55:00Z", "2026-05-12T08:55:00+01:00", true}, {"2026-05-12T08:55:00Z", "2026-05-12T08:55:00+01:00", false}, {"later", "2026-05-12T08:55:00+01:00", false},
	} {
		if why := otherMoment(checks.Answer{Typed: c.typed, Word: c.word}, at); (why == "") != c.sound {
			t.Errorf("%s as %s: %q", c.typed, c.word, why)
		}
	}
}
