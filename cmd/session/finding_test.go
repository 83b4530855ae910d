package session

import (
	"testing"

	"handback/checks"
)

// A row that expects one thing says it once; fields that expect different things
// each say their own; a field that expects something beside one that does not says
// it by name, as a torque beside its witness mark.
func TestExpectText(t *testing.T) {
	field := func(value, low, high float64, source string) checks.Field {
		return checks.Field{Unit: "V", Expect: &checks.Expect{Value: value, Low: low, High: high, Source: source}}
	}
	line, pole := field(420, 400, 440, "line volts read"), field(0, 0, 20, "in phase")
	torque := checks.Field{Label: "link U, torque", Unit: "N·m", Expect: &checks.Expect{Value: 28, Low: 25.2, High: 30.8, Source: "maker's sheet"}}
	dead := checks.Field{Unit: "V", Wanted: "dead; above 50 V stop", Expect: &checks.Expect{Value: 0, Low: 0, High: 50, Source: "common practice"}}
	for _, c := range []struct {
		row  []checks.Field
		want string
	}{
		{[]checks.Field{line}, "expect 420 (400 to 440) V: line volts read"},
		{[]checks.Field{line, line, line}, "expect 420 (400 to 440) V: line volts read"},
		{[]checks.Field{pole, line, line}, "expect 0 (0 to 20), 420 (400 to 440), 420 (400 to 440) V: in phase; line volts read"},
		{[]checks.Field{torque, {Label: "link U, witness mark"}}, "expect torque 28 (25.2 to 30.8) N·m: maker's sheet"},
		{[]checks.Field{dead, dead}, "expect dead; above 50 V stop: common practice"},
		{[]checks.Field{{Unit: "V"}}, ""},
		{nil, ""},
	} {
		if got := ExpectText(c.row); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
