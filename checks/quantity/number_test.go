package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestParseNumber_accepted(t *testing.T) {
	for typed, want := range map[string]float64{
		"418.2": 418.2, "418,2": 418.2, "0": 0, "-3": -3, "−3": -3, "+3": 3, ".5": 0.5, ",5": 0.5, "5.": 5, "1.5e3": 1500, "1,5E-3": 0.0015,
		"0,249":    0.249, // no thousands group begins with 0
		"-0,249":   -0.249,
		"1234,567": 1234.567, // longer than a thousands group
		"12,34":    12.34,
		"1,2345":   1.2345,
		"1.234":    1.234, // a point is a decimal point
		"007":      7,
		"400.00000000000000000000000000000000000": 400,
		"1e99": 1e99,
	} {
		got, err := ParseNumber(typed)
		if err != nil || got != want {
			t.Errorf("%q is read as %v, %v; want %v", typed, got, err, want)
		}
	}
}

func TestParseNumber_ambiguous(t *testing.T) {
	for typed, says := range map[string]string{
		"1,234":   "type 1.234 or 1234",
		"12,345":  "type 12.345 or 12345",
		"-1,234":  "type -1.234 or -1234",
		"−1,234":  "type -1.234 or -1234",
		"00,249":  "type 00.249 or 00249",
		"1,234e3": "type 1.234 or 1234",
	} {
		_, err := ParseNumber(typed)
		if !errors.Is(err, ErrAmbiguous) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v; want an ambiguous number and %q", typed, err, says)
		}
	}
}

func TestParseNumber_refused(t *testing.T) {
	for _, typed := range []string{
		"", " ", "NaN", "nan", "inf", "Inf", "-Infinity", "∞", "0x10", "0x1p-2", "1_000", "1 000", "1'000", "1,234,567", "1.234,5", "1..2", "--3", "+-3", "3-",
		"1e", "1e+", "1e400", "1e-400", "e5", ".", ",", "+", "٣", "１２", "4OO", "1e5.5", "1e1000", strings.Repeat("9", 41), "5−3",
	} {
		if got, err := ParseNumber(typed); err == nil {
			t.Errorf("%q is read as %v; want it refused", typed, got)
		} else if errors.Is(err, ErrAmbiguous) {
			t.Errorf("%q: called ambiguous: %v", typed, err)
		}
	}
}

func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"418.2", "418,2", "1,234", "−3", "1.5e3", "NaN", "0x1p4", "1_0", ".5", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := ParseNumber(s)
		if err != nil && x != 0 {
			t.Errorf("%q gives %v beside an error", s, x)
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%q is read as %v", s, x)
		}
		if y, err2 := ParseNumber(strings.Replace(s, ".", ",", 1)); err == nil && err2 == nil && !strings.Contains(s, ",") && x != y {
			t.Errorf("%q is %v with a point and %v with a comma", s, x, y)
		}
	})
}
