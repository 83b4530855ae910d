package plan_test

import (
	"os"
	"strings"
	"testing"

	"handback/checks/plan"
)

// planWith is the plan of the demo with more keys at its end.
func planWith(t *testing.T, more string) (*plan.Plan, error) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/demo/plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return plan.Load("plan.yaml", append(data, more...))
}

func TestImports(t *testing.T) {
	p, err := planWith(t, `
imports:
  - {id: logger, separator: semicolon, decimal: comma, columns: {"U HV [kV]": hv.value, "U12 [V]": volts-t2.l1l2}, ignore: [Time], fixed: {volts-t2.meter: dmm-7}}
  - {id: lines, check_column: Check, field_column: Field, value_column: Value}
`)
	if err != nil {
		t.Fatal(err)
	}
	if m := p.Import("logger"); m == nil || m.IsLong() {
		t.Errorf("%+v", m)
	} else if c, f := m.Target("U12 [V]"); c != "volts-t2" || f != "l1l2" {
		t.Errorf("%s.%s", c, f)
	}
	if m := p.Import("lines"); m == nil || !m.IsLong() {
		t.Errorf("%+v", m)
	}
	if p.Import("none") != nil {
		t.Error("an import nobody declared was found")
	}
}

// Everything wrong is named at its key.
func TestImports_wrong(t *testing.T) {
	for _, c := range []struct{ text, path, cause string }{
		{`{id: a}`, "imports[1]", "give columns, or check_column"},
		{`{id: a, check_column: C, value_column: V}`, "imports[1]", "are given together"},
		{`{id: a, check_column: C, field_column: F, value_column: V, columns: {X: hv.value}}`, "imports[1]", "a file has one of the two forms"},
		{`{id: a, check_column: C, field_column: C, value_column: V}`, "imports[1]", `column "C" is named twice`},
		{`{id: a, columns: {X: hv.value}, ignore: [X]}`, "imports[1].columns.X", `column "X" is named twice`},
		{`{id: a, columns: {X: hv.value, Y: hv.value}}`, "imports[1].columns.Y", `hv.value is what column "X" gives already`},
		{`{id: a, columns: {X: hw.value}}`, "imports[1].columns.X", "did you mean hv?"},
		{`{id: a, columns: {X: hv}}`, "imports[1].columns.X", "CHECK.FIELD is wanted"},
		{`{id: a, columns: {X: hv.valve}}`, "imports[1].columns.X", "did you mean value?"},
		{`{id: a, columns: {X: hv.value}, fixed: {hv.value: 1 kV}}`, "imports[1].fixed.hv.value", `column "X" gives it already`},
		{`{id: a, columns: {X: hv.value}, fixed: {hv.meter: mine}}`, "imports[1].fixed.hv.meter", `"mine" is not one of`},
		{`{id: a, columns: {X: hv.value}, fixed: {hv.metre: vt-3}}`, "imports[1].fixed.hv.metre", "did you mean meter?"},
		{`{id: a, separator: comma, decimal: comma, columns: {X: hv.value}}`, "imports[1].decimal", "comma is the separator too"},
		{`{id: a, separator: pipe, columns: {X: hv.value}}`, "imports[1].separator", "not one of comma, semicolon, tab"},
		{`{id: A b, columns: {X: hv.value}}`, "imports[1].id", "lower case"},
	} {
		_, err := planWith(t, "\nimports:\n  - "+c.text+"\n")
		if err == nil {
			t.Errorf("%s is taken", c.text)
			continue
		}
		if !strings.Contains(err.Error(), ": "+c.path+": ") || !strings.Contains(err.Error(), c.cause) {
			t.Errorf("%s: %v; want %s at %s", c.text, err, c.cause, c.path)
		}
	}
}
