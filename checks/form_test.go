package checks

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks/plan"
)

var formPlan = &plan.Plan{
	Meters: []plan.Meter{{ID: "dmm-1", Serial: "TW-1"}, {ID: "dmm-2", Serial: "TW-7518"}, {ID: "tester", Serial: "TW-1"}},
	People: []plan.Person{{ID: "ada"}, {ID: "ben"}},
}

var noon = time.Date(2026, 3, 2, 12, 0, 30, 0, time.UTC)

func TestParseAnswer_accepted(t *testing.T) {
	volts := Field{Key: "u", Sort: Measured, Unit: "V", Example: "230"}
	ohms := Field{Key: "r", Sort: Measured, Unit: "MΩ", Bounds: true, Example: "500"}
	lamp := Field{Key: "l", Sort: Choice, Options: []string{"lit", "not lit", "unclear"}}
	for _, c := range []struct {
		f     Field
		typed string
		want  Answer
	}{
		{volts, " 0.249 kV ", Answer{Typed: "0.249 kV", Value: 249, Unit: "V"}},
		{volts, "418,2", Answer{Typed: "418,2", Value: 418.2, Unit: "V"}},
		{ohms, "500", Answer{Typed: "500", Value: 500e6, Unit: "Ω"}},
		{ohms, ">2 GΩ", Answer{Typed: ">2 GΩ", Value: 2e9, Unit: "Ω", Bound: ">"}},
		{lamp, "lit", Answer{Typed: "lit", Word: "lit"}},
		{lamp, "LI", Answer{Typed: "LI", Word: "lit"}},
		{lamp, "n", Answer{Typed: "n", Word: "not lit"}},
		{lamp, "Not Lit", Answer{Typed: "Not Lit", Word: "not lit"}},
		{Field{Key: "n", Sort: Choice, Options: []string{"1", "10", "100"}}, "1", Answer{Typed: "1", Word: "1"}}, // a whole option wins over a beginning
		{Field{Key: "m", Sort: MeterUsed}, "Tester", Answer{Typed: "Tester", Word: "tester"}},
		{Field{Key: "m", Sort: MeterUsed}, "tw-7518", Answer{Typed: "tw-7518", Word: "dmm-2"}},
		{Field{Key: "m", Sort: MeterUsed}, "DMM-2", Answer{Typed: "DMM-2", Word: "dmm-2"}},
		{Field{Key: "w", Sort: Initials}, "Ben", Answer{Typed: "Ben", Word: "ben"}},
		{Field{Key: "c", Sort: Count}, "12", Answer{Typed: "12", Value: 12}},
		{Field{Key: "c", Sort: Count}, "0", Answer{Typed: "0"}},
		{Field{Key: "t", Sort: Words}, "  a word\tor two ", Answer{Typed: "a word\tor two", Word: "a word\tor two"}},
		{Field{Key: "t", Sort: Words}, strings.Repeat("é", maxWords), Answer{Typed: strings.Repeat("é", maxWords), Word: strings.Repeat("é", maxWords)}},
		{Field{Key: "at", Sort: Instant}, "now", Answer{Typed: "now", Word: "2026-03-02T12:00:30Z"}},
		{Field{Key: "at", Sort: Instant}, "2026-03-01T23:05:00+01:00", Answer{Typed: "2026-03-01T23:05:00+01:00", Word: "2026-03-01T23:05:00+01:00"}},
	} {
		got, err := ParseAnswer(c.f, formPlan, c.typed, noon)
		if err != nil {
			t.Errorf("%q for %s: %v", c.typed, c.f.Sort, err)
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%q for %s (-want +got)\n%s", c.typed, c.f.Sort, d)
		}
	}
}

func TestParseAnswer_refused(t *testing.T) {
	volts := Field{Key: "u", Sort: Measured, Unit: "V", Example: "230"}
	lamp := Field{Key: "l", Sort: Choice, Options: []string{"lit", "unlit", "unclear"}}
	count := Field{Key: "c", Sort: Count, Example: "3"}
	at := Field{Key: "at", Sort: Instant}
	words := Field{Key: "t", Sort: Words}
	for _, c := range []struct {
		f           Field
		typed, says string
	}{
		{volts, "", "u: nothing was typed; a voltage in V, such as 230 is wanted"},
		{volts, "   ", "nothing was typed"},
		{volts, "1,234", "read two ways"},
		{volts, ">230", `">230" is a bound; a voltage in V, such as 230`},
		{volts, "5 A", "is a current"},
		{volts, "NaN", "no number"},
		{volts, "2\x1b[31m30", "control characters"},
		{lamp, "un", `"un" is not one of lit, unlit, unclear`},
		{lamp, "lits", "is not one of"},
		{Field{Key: "m", Sort: MeterUsed}, "dmm", `"dmm" is not one of dmm-1, dmm-2, tester`},
		{Field{Key: "m", Sort: MeterUsed}, "t", `"t" is not one of dmm-1, dmm-2, tester`},
		{Field{Key: "m", Sort: MeterUsed}, "TW-1", "more than one has that serial number"},
		{Field{Key: "w", Sort: Initials}, "cat", "is not one of ada, ben"},
		{Field{Key: "w", Sort: Initials}, "b", "is not one of ada, ben"},
		{count, "1.5", "a whole number from 0 is wanted"}, {count, "-1", "a whole number"}, {count, "+1", "a whole number"}, {count, "1e3", "a whole number"}, {count, "1000001", "a whole number"}, {count, "0x5", "a whole number"},
		{at, "25:00", "is not a time"}, {at, "noon", "is not a time"}, {at, "2026-03-02", "is not a time"}, {at, "12:60", "is not a time"}, {at, "0001-01-01T00:00:00Z", "a year from 2000"}, {at, "2026-03-02T12:00:00+24:00", "an offset of at most 14 hours"}, {at, "2026-03-02T12:00:00-23:00", "an offset of at most 14 hours"},
		{words, "bell\a", "control characters"}, {words, "nul\x00", "control characters"}, {words, "csi\u009b", "control characters"},
		{words, "turn\u202etxet", "control characters"}, {words, "isolate\u2066", "control characters"}, {words, "bad \xff byte", "not written in UTF-8"}, {words, "return\rover", "control characters"},
		{words, strings.Repeat("é", maxWords+1), "2001 characters; at most 2000 are stored"},
	} {
		got, err := ParseAnswer(c.f, formPlan, c.typed, noon)
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), c.f.Key+": ") {
			t.Errorf("%q for %s: %v; want %q after the field's key", c.typed, c.f.Sort, err, c.says)
		}
		if got != (Answer{}) {
			t.Errorf("%q for %s gives %+v beside an error", c.typed, c.f.Sort, got)
		}
	}
	if _, err := ParseAnswer(Field{Key: "m", Sort: MeterUsed}, &plan.Plan{}, "dmm", noon); err == nil || !strings.Contains(err.Error(), "names none") {
		t.Errorf("an instrument of a plan without any: %v", err)
	}
}

// A time of day is the latest such moment that can have come already.
func TestParseAnswer_timeOfDay(t *testing.T) {
	zone := time.FixedZone("", 2*3600)
	day := func(d, h, m, s int) time.Time { return time.Date(2026, 3, d, h, m, s, 0, zone) }
	for _, c := range []struct {
		typed     string
		now, want time.Time
	}{
		{"14:05", day(2, 15, 0, 0), day(2, 14, 5, 0)},
		{"14:05:30", day(2, 15, 0, 0), day(2, 14, 5, 30)},
		{"14:05", day(2, 14, 5, 0), day(2, 14, 5, 0)},
		{"14:09", day(2, 14, 0, 0), day(2, 14, 9, 0)},  // a watch that runs ahead
		{"14:11", day(2, 14, 0, 0), day(1, 14, 11, 0)}, // too far ahead: the day before
		{"23:58", day(2, 0, 3, 0), day(1, 23, 58, 0)},  // just after midnight
		{"00:01", day(2, 0, 3, 0), day(2, 0, 1, 0)},
		{"00:00", day(2, 0, 0, 0), day(2, 0, 0, 0)},
		{"00:03", day(2, 23, 58, 0), day(3, 0, 3, 0)}, // just before midnight, by a watch that runs ahead
		{"00:20", day(2, 23, 58, 0), day(2, 0, 20, 0)},
		{"23:59", time.Date(2026, 1, 1, 0, 1, 0, 0, zone), time.Date(2025, 12, 31, 23, 59, 0, 0, zone)},
	} {
		a, err := ParseAnswer(Field{Key: "at", Sort: Instant}, formPlan, c.typed, c.now)
		if err != nil || !a.Time().Equal(c.want) {
			t.Errorf("%s typed at %v is %v, %v; want %v", c.typed, c.now, a.Time(), err, c.want)
		}
	}
	if !(Answer{Word: "soon"}).Time().IsZero() {
		t.Error("a word that is no time has one")
	}
}

// In the night the clocks are put back an hour of real time hangs on which of two
// moments a time of day is: once both have come it is not guessed. Berlin, 2026: put
// forward on March 29 at 01:00 UTC, back on October 25 at 01:00 UTC (tz database).
func TestParseAnswer_clockChange(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	utc := func(month time.Month, d, h, m int) time.Time { return time.Date(2026, month, d, h, m, 0, 0, time.UTC) }
	for _, c := range []struct {
		typed     string
		now, want time.Time
		says      string
	}{
		{typed: "02:50", now: utc(10, 25, 0, 52), want: utc(10, 25, 0, 50)}, // the second has not come
		{typed: "02:50", now: utc(10, 25, 1, 58), says: "type the first as 2026-10-25T02:50:00+02:00, the second as 2026-10-25T02:50:00+01:00"},
		{typed: "02:50", now: utc(10, 25, 7, 0), says: "came twice"},
		{typed: "01:50", now: utc(10, 25, 1, 58), want: utc(10, 24, 23, 50)},
		{typed: "03:10", now: utc(10, 25, 7, 0), want: utc(10, 25, 2, 10)},
		{typed: "2026-10-25T02:50:00+02:00", now: utc(10, 25, 1, 58), want: utc(10, 25, 0, 50)},
		{typed: "02:30", now: utc(3, 29, 8, 0), says: "2026-03-29 02:30 was passed over"},
		{typed: "02:30", now: utc(3, 28, 23, 30), want: utc(3, 28, 1, 30)}, // before the change: the day before
		{typed: "02:30", now: utc(3, 29, 22, 30), says: "was passed over"},
	} {
		a, err := ParseAnswer(Field{Key: "at", Sort: Instant}, formPlan, c.typed, c.now.In(berlin))
		if c.says != "" {
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%q typed at %v is %v, %v; want %q", c.typed, c.now, a.Time(), err, c.says)
			}
			continue
		}
		if err != nil || !a.Time().Equal(c.want) {
			t.Errorf("%q typed at %v is %v, %v; want %v", c.typed, c.now, a.Time(), err, c.want)
		}
	}
}

func TestRows(t *testing.T) {
	form := []Field{{Key: "a"}, {Key: "b", Row: "r"}, {Key: "c", Row: "r"}, {Key: "d", Row: "s"}, {Key: "e"}, {Key: "f", Row: "r"}, {Key: "g"}}
	var got []string
	for _, row := range Rows(form) {
		got = append(got, strings.Join(KeysOf(row), "+"))
	}
	if d := cmp.Diff([]string{"a", "b+c", "d", "e", "f", "g"}, got); d != "" {
		t.Error(d)
	}
}

func FuzzParseAnswer(f *testing.F) {
	for _, s := range []string{"0.249 kV", "1,234", ">2 GΩ", "now", "14:05", "23:59:59", "2026-03-02T12:00:00+24:00", "l", "not lit", "12", "-0", "ada", "\x1b[2J", "\u202e", "\xff", strings.Repeat("9", 5000)} {
		f.Add(s)
	}
	fields := []Field{
		{Key: "u", Sort: Measured, Unit: "V", Example: "230"}, {Key: "r", Sort: Measured, Unit: "MΩ", Bounds: true, Example: "500"}, {Key: "t", Sort: Measured, Unit: "°C", Example: "20"},
		{Key: "l", Sort: Choice, Options: []string{"lit", "not lit", "unclear"}}, {Key: "n", Sort: Choice}, {Key: "c", Sort: Count}, {Key: "at", Sort: Instant},
		{Key: "m", Sort: MeterUsed}, {Key: "w", Sort: Initials}, {Key: "x", Sort: Words},
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, field := range fields {
			a, err := ParseAnswer(field, formPlan, s, noon)
			if err != nil {
				if a != (Answer{}) {
					t.Errorf("%q for %s gives %+v beside an error", s, field.Key, a)
				}
				continue
			}
			if math.IsNaN(a.Value) || math.IsInf(a.Value, 0) {
				t.Errorf("%q for %s is %v", s, field.Key, a.Value)
			}
			if plan.PlainText(a.Typed) != nil || plan.PlainText(a.Word) != nil {
				t.Errorf("%q for %s keeps control characters", s, field.Key)
			}
			if field.Sort == Instant && a.Time().IsZero() {
				t.Errorf("%q is kept as %q, which is no time", s, a.Word)
			}
			again, err := ParseAnswer(field, formPlan, a.Typed, noon)
			if err != nil || again != a {
				t.Errorf("%q for %s: its own kept text comes back as %+v, %v", s, field.Key, again, err)
			}
		}
	})
}
