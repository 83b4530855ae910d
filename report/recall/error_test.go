package recall

import (
	"math"
	"strings"
	"testing"
)

func TestParseError(t *testing.T) {
	all := math.Inf(1)
	for text, want := range map[string]Error{
		"+2.1 %":                   {To: all, Share: 2.1},
		"-0.4 V":                   {Of: "voltage", To: all, Amount: -0.4},
		"−0.4 V":                   {Of: "voltage", To: all, Amount: -0.4},
		"+2.1 % ± 0.3 %":           {To: all, Share: 2.1, UShare: 0.3},
		"+2.1 % +/- 0.3 V":         {Of: "voltage", To: all, Share: 2.1, UAmount: 0.3},
		"±2 %":                     {To: all, Share: 2, Within: true},
		"+-15 mV":                  {Of: "voltage", To: all, Amount: 0.015, Within: true},
		"to 300 V: +1.5 %":         {Of: "voltage", To: 300, Share: 1.5},
		"300 V to 0.6 kV: ±2 %":    {Of: "voltage", From: 300, To: 600, Share: 2, Within: true},
		"to 50 °C: -1.5 K":         {Of: "temperature", To: 50, Amount: -1.5},
		"10 N·m to 60 N·m: +4 N·m": {Of: "torque", From: 10, To: 60, Amount: 4},
	} {
		want.Text = text
		if got, err := ParseError(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", text, got, err, want)
		}
	}
	for text, why := range map[string]string{
		"":                          "no sign",
		"2 %":                       "no sign",
		"+2":                        "known unit",
		"±2 % ± 1 %":                "a bound has no uncertainty of its own",
		"+2 % ± -1 %":               "no sign",
		"to 300 V: +2 A":            "not of a voltage",
		"300 V: +2 %":               "no span",
		"300 V to 200 V: +2 %":      "no span",
		"300 V to 200 A: +2 %":      "no span",
		"-5 V to 200 V: +2 %":       "no span",
		"to 300 V +2 %":             "no sign",
		"to 300 V: +2 % ± 1 parsec": "known unit",
	} {
		if got, err := ParseError(text); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%q: %+v, %v, want an error that says %q", text, got, err, why)
		}
	}
}
