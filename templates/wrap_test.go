package templates_test

import (
	"strings"
	"testing"

	"handback/templates"
)

func TestWrap(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"short", "short"},
		{"", ""},
		{"12345 6789", "12345 6789"},
		{"12345 67890", "12345|67890"},
		{"one two three four", "one two|three four"},
		{"  one   two  three", "one   two|three"},
		{"abcdefghijklmnopqrstuvw", "abcdefghij|klmnopqrst|uvw"},
		{"ΩΩΩΩΩΩΩΩΩΩ", "ΩΩΩΩΩΩΩΩΩΩ"},
		{"泵站 泵站泵站泵站泵站泵站", "泵站|泵站泵站泵站泵站泵站"},
	} {
		if got := templates.Wrap(10, c.in); got != strings.ReplaceAll(c.want, "|", "\n") {
			t.Errorf("%q gives %q, want %q", c.in, got, c.want)
		}
	}
}
