package plan_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"handback/checks/plan"
)

// changed is a change to the plan and what it is then objected to for.
type changed struct{ name, old, with, says string }

const secondMeter = "plant:\n  supply"

var identityCases = []changed{
	{"one serial twice", secondMeter, "  - {id: two, name: clamp, serial: ' ex-1 ', due: 2027-01-31}\n" + secondMeter, "instruments[2].serial: serial ex-1 stands already at line 13, for dmm"},
	{"two serials", secondMeter, "  - {id: two, name: clamp, serial: EX-2, due: 2027-01-31}\n" + secondMeter, ""},
	{"one certificate, two due dates", secondMeter, "  - {id: a, name: a, serial: a, certificate: C 1, due: 2027-01-31}\n  - {id: b, name: b, serial: b, certificate: c  1, due: 2027-02-28}\n" + secondMeter,
		"instruments[3].due: 2027-02-28, but certificate c  1 is due on 2027-01-31 for a at line 17"},
	{"one certificate of two instruments", secondMeter, "  - {id: a, name: a, serial: a, certificate: C 1, due: 2027-01-31}\n  - {id: b, name: b, serial: b, certificate: C 1, due: 2027-01-31}\n" + secondMeter, ""},
	{"no certificate twice", secondMeter, "  - {id: a, name: a, serial: a, due: 2027-01-31}\n  - {id: b, name: b, serial: b, due: 2027-02-28}\n" + secondMeter, ""},
	{"one person in two roles", "name: B. Example", "name: a.  example", "people[2].name: a.  example stands already at line 7, as ada (technician)"},
	{"plant told apart by capitals", "  boards:\n", "  boards:\n    - {id: t2, nominal: 400 V}\n", `plant.boards[1].id: "t2" differs from "T2" by capitals alone`},
	{"a starter's mark", "title: Transformer T2 after tap change", "title: Transformer T2   # REPLACE: heads every sheet", "plan.yaml:3:1: 1 line is still marked REPLACE: 3;"},
	{"the starter's head alone", "handback: 1\n", "# Each line marked REPLACE takes what stands on your nameplate.\nhandback: 1\n", ""},
	{"a starter's person", "name: B. Example", "name: Name of the engineer", `people[2].name: "Name of the engineer" is a starter's text`},
	{"a starter's firm", "role: engineer}", "role: engineer, firm: Firm}", `people[2].firm: "Firm" is a starter's text`},
	{"a starter's permit", "work: tap", "permit: Number of the permit; the rules that come first\nwork: tap", "permit: "},
	{"a starter's certificate", "serial: EX-1", "serial: EX-1\n    certificate: number", `instruments[1].certificate: "number" is a starter's text`},
	{"a title of 200", "title: Transformer T2 after tap change", "title: " + strings.Repeat("x", 200), ""},
	{"a title of 3000", "title: Transformer T2 after tap change", "title: " + strings.Repeat("x", 3000), "title: 3000 characters: at most 200 are accepted"},
	{"a name of 121", "name: multimeter", "name: " + strings.Repeat("x", 121), "instruments[1].name: 121 characters: at most 120"},
	{"a work of 1001", "work: tap links moved on T2", "work: " + strings.Repeat("é", 1001), "work: 1001 characters: at most 1000"},
	{"a work of 1000", "work: tap links moved on T2", "work: " + strings.Repeat("é", 1000), ""},
	{"a title of two lines", "title: Transformer T2 after tap change", "title: \"T2\\nafter\"", "title: 2 lines: at most 1"},
	{"a work of 40 lines", "work: tap links moved on T2", "work: \"a" + strings.Repeat("\\nb", 39) + "\"", "work: 40 lines: at most 20"},
}

func TestIdentity(t *testing.T) {
	for _, c := range identityCases {
		t.Run(c.name, func(t *testing.T) {
			if strings.Count(planText, c.old) != 1 {
				t.Fatalf("%q stands %d times in the plan", c.old, strings.Count(planText, c.old))
			}
			got := objected(t, strings.Replace(planText, c.old, c.with, 1))
			if c.says == "" && len(got) > 0 || c.says != "" && !slices.ContainsFunc(got, func(q plan.Problem) bool { return strings.Contains(q.String(), c.says) }) {
				t.Errorf("objections\n%v\nwant %q", got, c.says)
			}
		})
	}
}

// A mark that takes no place on the screen is refused wherever it stands, and the
// letters of any script are not.
func TestText_unseen(t *testing.T) {
	for _, mark := range []string{"\u200b", "\u200e", "\u200f", "\u2028", "\u2029", "\u2060", "\ufeff", "\u00ad", "\u061c", "\u202e", "\u2066"} {
		p, err := plan.Load("plan.yaml", []byte(strings.Replace(planText, "tap links moved on T2", fmt.Sprintf("%+q", "tap "+mark+"links"), 1)))
		if err == nil && len(p.Objections()) != 1 || err != nil && !strings.Contains(err.Error(), "work: ") {
			t.Errorf("%+q in a text: %v", mark, err)
		}
	}
	for _, word := range []string{"جابجایی تپ", "می\u200cشود", "क्\u200dष", "Δτ 変圧器", "10 000 kΩ"} {
		if got := objected(t, strings.Replace(planText, "tap links", word, 1)); len(got) > 0 {
			t.Errorf("%q: %v", word, got)
		}
	}
}

// Two checks of one kind, title and place cannot be told apart on a sheet.
func TestTitlesApart(t *testing.T) {
	twice := strings.Replace(planText, "  - hold: close", "  - check: hv2\n    kind: measure\n    given: {name: HV volts, unit: kV, low: 10.5 kV, high: 11.5 kV}\n  - hold: close", 1)
	p, err := plan.Load("plan.yaml", []byte(twice))
	if err != nil {
		t.Fatal(err)
	}
	if w := p.Warnings(); len(w) != 1 || !strings.Contains(w[0].Cause, "check hv2 has the kind, title and place of check hv at line 34") {
		t.Errorf("warnings %v", w)
	}
}
