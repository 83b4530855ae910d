package cmd

import (
	"testing"

	"handback/checks"
)

// A row that expects one thing says it once; fields that expect different things
// each say their own.
func TestExpectText(t *testing.T) {
	field := func(value, low, high float64, source string) checks.Field {
		return checks.Field{Unit: "V", Expect: &checks.Expect{Value: value, Low: low, High: high, Source: source}}
	}
	line, pole := field(420, 400, 440, "line volts read"), field(0, 0, 20, "in phase")
	for _, c := range []struct {
		row  []checks.Field
		want string
	}{
		{[]checks.Field{line}, "expect 420 (400 to 440) V: line volts read"},
		{[]checks.Field{line, line, line}, "expect 420 (400 to 440) V: line volts read"},
		{[]checks.Field{pole, line, line}, "expect 0 (0 to 20), 420 (400 to 440), 420 (400 to 440) V: in phase; line volts read"},
		{[]checks.Field{pole, {Unit: "V"}}, ""},
		{[]checks.Field{{Unit: "V"}}, ""},
		{nil, ""},
	} {
		if got := expectText(c.row); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
