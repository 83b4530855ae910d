package checks

import "strings"

// UnreadSource is a published source that limits here name and whose text nobody who
// wrote this program has read: what is taken from it is known from memory, or
// second-hand from who quotes it.
type UnreadSource struct {
	Source string `json:"source"`
	How    string `json:"how"`  // from memory, or second-hand
	What   string `json:"what"` // what is taken from it
}

// unread is the one place that says so; nothing that people sign repeats it.
var unread = []UnreadSource{
	{"ANSI/NETA ATS", "from memory", "bands of joint temperatures"},
	{"ANSI/NETA MTS", "from memory", "that table 100.2 is of switchgear; its figures were read"},
	{"EN 50160", "from memory", "2 % of unbalance as a level of supplies"},
	{"IEC 60028", "from memory", "resistivity of copper, 1/58 Ω·mm²/m at 20 °C"},
	{"IEC 60034-1", "second-hand", "1 % of unbalance for motors"},
	{"IEC 60076-1", "from memory", "the clause of 75 °C as reference of liquid-immersed windings, the tolerance of impedances, the clock numbers"},
	{"IEC 60076-5", "from memory", "the span of impedances and of fault levels"},
	{"IEC 60076-8", "from memory", "which vector groups may be paralleled"},
	{"IEC 60076-11", "from memory", "reference temperatures by insulation class, 1 K an hour as steady, cooling air of 40 °C"},
	{"IEC 60085", "from memory", "temperatures of thermal classes"},
	{"IEC 60228", "from memory", "highest resistances of cable conductors, and their factor to 20 °C"},
	{"IEC 60364-4-41", "from memory", "50 V a.c. and 120 V d.c. as no hazard to touch"},
	{"IEC 60364-6", "from memory", "minimum insulation of installations, continuity of protective conductors"},
	{"IEC 60502-2", "from memory", "direct test volts and aged extruded cable"},
	{"IEC 61000-2-2", "from memory", "2 % of unbalance as a level of supplies"},
	{"IEC 61000-2-4", "from memory", "3 % of unbalance in class 3"},
	{"IEC 61140", "from memory", "the limits of extra-low voltage"},
	{"IEC 61439-1", "from memory", "70 K at terminals, peak factors of boards"},
	{"IEC 61557-2", "from memory", "30 % of error of an insulation tester"},
	{"IEC 61557-4", "from memory", "0.2 A and 4 to 24 V of a continuity tester"},
	{"IEC 62271-1", "from memory", "peak factors of switchgear, the volts from which releases operate"},
	{"IEC 62271-100", "from memory", "the spread of a breaker's poles"},
	{"IEEE 1547-2018", "second-hand", "Table 5, limits of synchronising by rating"},
	{"IEEE 400", "from memory", "direct test volts and aged extruded cable"},
	{"IEEE 43", "from memory", "halving per 10 K, the discharge of four times the test, where indices are set aside"},
	{"IEEE C50.12 and C50.13", "second-hand", "limits of synchronising rotating machines"},
}

// UnreadOf are those that a kind takes limits from.
func UnreadOf(k *Kind) []UnreadSource {
	out := []UnreadSource{}
	for _, u := range unread {
		if mentions(strings.Join(k.Sources, "\n"), u.Source) {
			out = append(out, u)
		}
	}
	return out
}

// mentions tells whether a text names a source, and not one whose number goes on.
func mentions(text, source string) bool {
	for {
		_, after, found := strings.Cut(text, source)
		if !found {
			return false
		}
		if after == "" || after[0] < '0' || after[0] > '9' {
			return true
		}
		text = after
	}
}
