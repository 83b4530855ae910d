package grid

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"handback/report"
)

func TestLinesOf(t *testing.T) {
	digits := Look{Size: 10} // a digit is 5.56 points wide, a space 2.78
	for _, c := range []struct {
		text string
		room float64
		want []string
	}{
		{"", 30, []string{""}},
		{"11111", 28, []string{"11111"}},
		{"111111", 28, []string{"11111", "1"}},
		{"11 11 11", 28, []string{"11 11 ", "11"}},
		{"1\n\n1", 28, []string{"1", "", "1"}},
		{"1 111111111", 28, []string{"1 ", "11111", "1111"}},
		{"1", 1, []string{"1"}},
	} {
		if diff := cmp.Diff(c.want, linesOf(c.text, c.room, digits)); diff != "" {
			t.Errorf("%q in %v points (-want +got):\n%s", c.text, c.room, diff)
		}
	}
}

// Wrapping loses nothing and keeps every line within its room; pieces join to the
// text again and none is higher than asked.
func TestWrapping_properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-zA-Z ]{0,40}|[Ω中\n]{0,3}){0,20}`).Draw(t, "text")
		room := rapid.Float64Range(12, 300).Draw(t, "room")
		high := rapid.IntRange(1, 6).Draw(t, "high")
		l := Look{Size: 9, Bold: rapid.Bool().Draw(t, "bold")}
		lines := linesOf(text, room, l)
		if strings.Join(lines, "") != strings.ReplaceAll(text, "\n", "") {
			t.Fatalf("lines %q", lines)
		}
		for _, line := range lines {
			width := 0.0
			for _, r := range strings.TrimRight(line, " ") {
				width += float64(advance(r, l)) * l.Size / 1000
			}
			if width > room*(1+1e-12) && utf8.RuneCountInString(line) > 1 {
				t.Fatalf("line %q is %v wide, room is %v", line, width, room)
			}
		}
		pieces, counts := stretches(text, room, l, high)
		joined, sum := "", 0
		for i, p := range pieces {
			joined += p
			sum += counts[i]
			if got := len(linesOf(p, room, l)); counts[i] > high || got > counts[i]+strings.Count(p, "\n") {
				t.Fatalf("piece %q counts %d lines, has %d, at most %d", p, counts[i], got, high)
			}
		}
		if strings.ReplaceAll(joined, "\n", "") != strings.ReplaceAll(text, "\n", "") || sum != len(lines) {
			t.Fatalf("pieces %q of %q, %d lines of %d", pieces, text, sum, len(lines))
		}
	})
}

func TestPlain(t *testing.T) {
	for in, want := range map[string]string{
		"a\r\nb": "a\nb", "a\rb": "a\nb", "a\tb": "a\tb", "a\x00b\x1b\x7f": "a\ufffdb\ufffd\ufffd", "\u202eabc\u2066": "\ufffdabc\ufffd", "a\u2028b": "a\nb",
		"\xff": "\ufffd", "µΩ ≤ −5": "µΩ ≤ −5",
	} {
		if got := report.Plain(in); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
}

func TestNumberFormats(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     string
	}{{440.9, 1, "0.0"}, {5, 0, "0"}, {1200000000, 0, "0"}, {12000000000, 0, "0.0000E+00"}, {0.0000123456, 12, "0.0000E+00"}, {-0.085, 3, "0.000"}} {
		if got := DecimalsFormat(c.x, c.decimals); got != c.want {
			t.Errorf("%v with %d decimals: %q, want %q", c.x, c.decimals, got, c.want)
		}
	}
	for x, want := range map[float64]int{400: 0, 2.5: 1, 0.95: 2, 1e-7: 12, 253.25: 2, 1e9: 0} {
		if got := EnoughDecimals(x); got != want && !(x == 1e-7 && got >= 7) {
			t.Errorf("limit %v with %d decimals, want %d", x, got, want)
		}
	}
	for typed, want := range map[string]int{"11.20": 2, "11,2": 1, "440": 0, "1.2 GΩ": 0, "−0.50": 2, ">2": 0} {
		if got := report.TypedDecimals(typed); got != want {
			t.Errorf("%q has %d decimals, want %d", typed, got, want)
		}
	}
}

func TestFitsCell(t *testing.T) {
	if err := fitsCell(strings.Repeat("x", cellLimit)); err != nil {
		t.Error(err)
	}
	if err := fitsCell(strings.Repeat("\U0001F600", cellLimit/2+1)); err == nil {
		t.Error("a text of 32 768 UTF-16 units was taken")
	}
}
