package fieldsheet

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/testdata/rig"
)

const csvPlan = `handback: 1
id: log
title: A board with a logger
site: Invented pumping station
work: Logger fitted
people: [{id: ada, name: Ada Example, role: technician}]
instruments: [{id: hvm, name: HV voltmeter, serial: EX-3, due: 2027-01-31}]
imports:
  - {id: long, check_column: Check, field_column: Field, value_column: Value, ignore: [Remark]}
  - {id: wide, decimal: comma, columns: {U1: volts.p1, "U2, V": volts.p2, Meter: volts.meter}, ignore: [Time], fixed: {hv.meter: hvm}}
  - {id: fixed, columns: {U1: volts.p1}, fixed: {volts.meter: hvm, hv.meter: hvm}}
  - {id: point, separator: tab, decimal: point, columns: {U1: volts.p1}}
  - {id: one, columns: {U1: volts.p1}}
  - {id: either, columns: {"U1,U2": volts.p1, U1: volts.p2, U2: volts.meter}, ignore: ["U1;U2", "x;U1", "x,U2"]}
steps:
  - check: hv
    kind: measure
    instrument: hvm
    given: {name: HV line-to-line volts, unit: kV, low: 10.7 kV, high: 11.2 kV}
  - check: volts
    kind: measure
    instrument: hvm
    given: {name: volts, unit: V, points: [L1, L2], low: 220 V, high: 240 V}
`

func TestReadCSV(t *testing.T) {
	r := rig.Of(t, "log.yaml", []byte(csvPlan))
	job := r.Job()
	for name, c := range map[string]struct {
		form, text string
		want       map[string]string
		fault      string
	}{
		"long":             {"long", "Check,Field,Value\nhv,value,10.98\nhv,meter,hvm\n", map[string]string{"hv/1/value": "10.98 → 10980V", "hv/1/meter": "hvm → hvm"}, ""},
		"BOM and CRLF":     {"long", "\ufeffCheck,Field,Value\r\nhv,value,10.98\r\n", map[string]string{"hv/1/value": "10.98 → 10980V"}, ""},
		"CR":               {"long", "Check;Field;Value\rhv;value;10,98 kV\r", map[string]string{"hv/1/value": "10,98 kV → 10980V"}, ""},
		"tabs, any order":  {"long", "Value\tRemark\tField\tCheck\n10.98\tx\tvalue\thv\n\n", map[string]string{"hv/1/value": "10.98 → 10980V"}, ""},
		"quotes":           {"long", "\"Check\",\"Field\",\"Value\",Remark\n\"hv\",value,\"10,98\",\"one\ntwo\"\n", map[string]string{"hv/1/value": "10,98 → 10980V"}, ""},
		"no last line end": {"long", "Check,Field,Value\nhv,value,10.98", map[string]string{"hv/1/value": "10.98 → 10980V"}, ""},
		"empty values":     {"long", "Check,Field,Value\nhv,value,\nhv,meter,hvm\n", map[string]string{"hv/1/meter": "hvm → hvm"}, ""},
		"wide":             {"wide", "Time;Meter;U1;U2, V\n10:00;hvm;230,125;231,5\n", map[string]string{"volts/1/p1": "230,125 → 230.125V", "volts/1/p2": "231,5 → 231.5V", "volts/1/meter": "hvm → hvm"}, ""},
		"wide, with units": {"wide", "U1;Time\n\"0,230125 kV\";x\n", map[string]string{"volts/1/p1": "0,230125 kV → 230.125V"}, ""},
		"fixed answers":    {"fixed", "U1\n230.5\n", map[string]string{"volts/1/p1": "230.5 → 230.5V", "volts/1/meter": "hvm → hvm"}, ""},
		"nothing to fix":   {"fixed", "U1\n\"\"\n", map[string]string{}, ""},
		"one column":       {"one", "U1\n230.5\n", map[string]string{"volts/1/p1": "230.5 → 230.5V"}, ""},

		"ambiguous":           {"long", "Check;Field;Value\nhv;value;1,234\n", nil, `line 2, column Value: "1,234": "1,234" is read two ways`},
		"point among commas":  {"wide", "U1;Time\n230.125;x\n", nil, `line 2, column U1: "230.125": import wide declares the decimal comma`},
		"grouped":             {"wide", "U1;Time\n1.230,5;x\n", nil, "declares the decimal comma"},
		"comma among points":  {"point", "U1\n230,125\n", nil, `declares the decimal point: a number without "," is wanted`},
		"ragged short":        {"long", "Check,Field,Value\nhv,value\n", nil, "line 2: 2 values, the header has 3"},
		"ragged long":         {"long", "Check,Field,Value\nhv,value,10,98\n", nil, "line 2: 4 values, the header has 3"},
		"unknown column":      {"long", "Check,Field,Value,Extra\nhv,value,10.98,x\n", nil, `line 1: column "Extra" is not declared by import long`},
		"missing column":      {"long", "Check,Field\nhv,value\n", nil, `line 1: there is no column "Value"`},
		"column twice":        {"wide", "U1;U1\n1;2\n", nil, `column "U1" stands twice`},
		"no such check":       {"long", "Check,Field,Value\nhw,value,1\n", nil, `line 2, column Value: "1": no check "hw"`},
		"no such field":       {"long", "Check,Field,Value\nhv,volts,1\n", nil, `check hv asks no "volts": it asks meter, value`},
		"a key of the sheet":  {"long", "Check,Field,Value\nhv,+note,1\n", nil, `"+note": not the key of a field`},
		"value alone":         {"long", "Check,Field,Value\n,value,1\n", nil, "it stands beside no check or no field"},
		"twice":               {"long", "Check,Field,Value\nhv,value,10.98\nhv,value,10.98\n", nil, "value of check hv is given at line 2, column Value already"},
		"second line":         {"wide", "U1;Time\n1;x\n2;x\n", nil, "line 3: a second line of values"},
		"quote out of place":  {"long", "Check,Field,Value\nhv,va\"lue,1\n", nil, "line 2: column"},
		"open quote":          {"long", "Check,Field,Value\nhv,\"value,1\n", nil, "line 2"},
		"not UTF-8":           {"long", "Check,Field,Value\nhv,value,10\xb5\n", nil, "it is not UTF-8"},
		"NUL":                 {"long", "Check,Field,Value\nhv,value,\x00\n", nil, "it is no text"},
		"empty":               {"long", "\ufeff\r\n", nil, "it is empty"},
		"control character":   {"long", "Check,Field,Value\nhv,value,10\x1b[31m\n", nil, "control characters"},
		"formula":             {"long", "Check,Field,Value\nhv,value,=1+1\n", nil, "holds no number"},
		"parted one way":      {"either", "x,U2;U1\n1;2\n", map[string]string{"volts/1/p2": "2 → 2V"}, ""},
		"parted two ways":     {"either", "U1,U2\n1,2\n", nil, "line 1 can be parted by comma or semicolon or tab: give the separator"},
		"never told by lines": {"long", "Check,Field,Value\nhv;value;10.98\n", nil, "line 2: 1 value, the header has 3"},
	} {
		p, errs, err := ReadCSV([]byte(c.text), job, r.Plan.Import(c.form), ReadingOptions{Now: r.Now.Add(time.Hour)})
		text := ""
		if err != nil {
			text = err.Error()
		}
		for _, e := range errs {
			text += e.Error() + "\n"
		}
		switch {
		case c.fault != "":
			if p != nil || !strings.Contains(text, c.fault) {
				t.Errorf("%s: %s, want %s", name, text, c.fault)
			}
		case text != "":
			t.Errorf("%s: %s", name, text)
		default:
			if diff := cmp.Diff(c.want, understood(p)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", name, diff)
			}
		}
	}
}

// A judged check is not read over: equal values add nothing, others need a repeat.
func TestReadCSV_judged(t *testing.T) {
	r := rig.Of(t, "log.yaml", []byte(csvPlan))
	r.Want(r.Take("hv", rig.Typed{"meter": "hvm", "value": "10.98"}), checks.Pass)
	read := func(text, repeat string) (*Proposal, []CellError) {
		p, errs, err := ReadCSV([]byte(text), r.Job(), r.Plan.Import("long"), ReadingOptions{Now: r.Now.Add(time.Hour), Repeat: repeat})
		if err != nil {
			t.Fatal(err)
		}
		return p, errs
	}
	if p, errs := read("Check,Field,Value\nhv,value,10980 V\n", ""); len(errs) > 0 || p.Same != 1 || len(p.Checks) > 0 {
		t.Errorf("%+v, %v", p, errs)
	}
	if _, errs := read("Check,Field,Value\nhv,value,10.9\n", ""); len(errs) != 1 || !strings.Contains(errs[0].Cause, "and judged") {
		t.Errorf("%v", errs)
	}
	if p, errs := read("Check,Field,Value\nhv,value,10.9\n", "load had changed"); len(errs) > 0 || p.Checks[0].Attempt != 2 || p.Checks[0].Why != "load had changed" {
		t.Errorf("%+v, %v", p, errs)
	}
}

// Whatever stands in a file, reading it ends with faults or with answers that its
// checks ask.
func FuzzReadCSV(f *testing.F) {
	r := rig.Of(f, "log.yaml", []byte(csvPlan))
	job := r.Job()
	f.Add("long", []byte("Check,Field,Value\r\nhv,value,\"10,98\"\r\n"))
	f.Add("wide", []byte("\ufeffTime;Meter;U1;U2, V\n10:00;hvm;230,125;231,5\n"))
	f.Add("point", []byte("U1\n230.125\n"))
	f.Add("either", []byte("U1,U2\r1,hvm\r"))
	f.Fuzz(func(t *testing.T, form string, data []byte) {
		m := r.Plan.Import(form)
		if m == nil {
			m = r.Plan.Import("long")
		}
		p, errs, err := ReadCSV(data, job, m, ReadingOptions{Now: r.Now.Add(time.Hour)})
		if err == nil && len(errs) == 0 {
			sound(t, job, p)
		} else if p != nil {
			t.Fatalf("both a proposal and faults: %v, %v", errs, err)
		}
	})
}
