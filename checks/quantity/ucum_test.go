package quantity_test

import (
	"encoding/json"
	"math"
	"regexp"
	"testing"

	"handback/checks/quantity"
	"handback/testdata/outside"
)

// derivedUnits are those that findings come to and nothing is typed in.
var derivedUnits = []string{"K/h"}

// ucumTerm is what the codes here are made of, after the grammar of the UCUM
// specification, section 2.4 ("Formal Syntax Rules"): components joined by . and /, a
// leading /, an annotation in braces. The atoms and prefixes are those needed here, from
// memory; the test below asks a reader of the whole of UCUM.
var ucumTerm = regexp.MustCompile(`^/?` + ucumComponent + `([./]` + ucumComponent + `)*$`)

const ucumComponent = `(((m|k|M|G|T|u|n)?(V|A|Hz|W|Ohm|N|F|Pa|gf|s)|[cm]?m|L|min|h|K|Cel|deg|bar|lx|dB|%|1|\[[A-Za-z_]+\])(\{[ -z|~]*\})?)`

// Every unit has a code, of the grammar, and no two units of one quantity share it.
func TestUCUM(t *testing.T) {
	if quantity.UCUM("") != "1" || quantity.UCUM("furlong") != "" {
		t.Error("a bare number has unit 1; an unknown unit has no code")
	}
	whose := map[string]string{}
	symbols := append([]string{}, derivedUnits...)
	for _, u := range quantity.Units {
		symbols = append(symbols, u.Symbol)
	}
	for _, s := range symbols {
		code := quantity.UCUM(s)
		if !ucumTerm.MatchString(code) {
			t.Errorf("%s: the code %q is not of the grammar", s, code)
		}
		if other, twice := whose[code]; twice {
			t.Errorf("%s and %s have one code, %s", s, other, code)
		}
		whose[code] = s
	}
	for _, wrong := range []string{"V·A", "ohm", "N m", "degC", "/", "V.", "µOhm"} {
		if ucumTerm.MatchString(wrong) {
			t.Errorf("%q is taken for a code", wrong)
		}
	}
}

// A UCUM library that knows nothing of this program reads every code, and its factor to
// the base unit is ours.
func TestUCUM_against_library(t *testing.T) {
	outside.Long(t)
	node := outside.Npm(t, "@lhncbc/ucum-lhc@7.1.10")
	type ask struct{ From, To string }
	asked := []ask{{"K/h", "K/h"}}
	want := [][2]float64{{0, 8}}
	for _, u := range quantity.Units {
		asked = append(asked, ask{quantity.UCUM(u.Symbol), quantity.UCUM(quantity.BaseUnit(u.Of))})
		want = append(want, [2]float64{quantity.ToBase(0, u.Symbol), quantity.ToBase(8, u.Symbol)})
	}
	questions, err := json.Marshal(asked)
	if err != nil {
		t.Fatal(err)
	}
	out, err := node(`
const u = require('@lhncbc/ucum-lhc').UcumLhcUtils.getInstance()
console.log(JSON.stringify(JSON.parse(process.argv[1]).map(q => [0, 8].map(x => u.convertUnitTo(q.From, x, q.To).toVal))))`, string(questions)).Output()
	if err != nil {
		t.Fatal(err)
	}
	var got [][]*float64
	if err := json.Unmarshal(out, &got); err != nil || len(got) != len(asked) {
		t.Fatalf("%v: %.200s", err, out)
	}
	for i, q := range asked {
		for side, x := range got[i] {
			if x == nil || !(math.Abs(*x-want[i][side]) <= 1e-12*math.Max(300, math.Abs(want[i][side]))) {
				t.Errorf("%s in %s: the library has %v, here it is %v", q.From, q.To, x, want[i][side])
			}
		}
	}
}
