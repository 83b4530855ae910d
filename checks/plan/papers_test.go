package plan_test

import (
	"strings"
	"testing"

	"handback/checks/plan"
	"handback/testdata/demo"
)

// What ISO/IEC 17025:2017, 7.8.2.1, asks of a report and only a plan can say: b) who
// tested, with address, c) where, d) a number of its own, e) the customer with contact,
// g) the items without ambiguity, o) who authorises. Each is told when it is taken away,
// by its clause and its line, and by nothing else.
func TestLacks(t *testing.T) {
	whole := string(demo.Plan)
	p := loadText(t, whole)
	if lacks := p.Lacks(); len(lacks) > 0 {
		t.Fatalf("the demo lacks %v", lacks)
	}
	for _, c := range []struct{ cut, clause, path string }{
		{"name: Fenmark Services, address", "b)", "tested_by"},
		{`address: "Unit 25, Kiln Yard, Fenmark", `, "b)", "tested_by"},
		{"site_address: Pump Road 38, Tarnholt\n", "c)", "site_address"},
		{"number: TH-LV-0638, ", "d)", "document.number"},
		{"client: {name: Tarnholt Water, ", "e)", "client"},
		{`address: "46 Weir Lane, Tarnholt", contact: "Ines Colvane, plant office, extension 484"`, "e)", "client"},
		{"      serial: BCW-21413\n      year: 2002\n      asset: TH-TR-26\n", "g)", "plant.transformers[2].serial"},
		{"serial: SP-6110, year: 2002, asset: TH-BD-28, ", "g)", "plant.boards[1].serial"},
	} {
		if strings.Count(whole, c.cut) != 1 {
			t.Fatalf("%q does not stand once in the demo's plan", c.cut)
		}
		put := ""
		switch {
		case strings.HasPrefix(c.cut, "client"):
			put = "client: {"
		case strings.HasPrefix(c.cut, "name: Fenmark"):
			put = "address"
		}
		q := loadText(t, strings.Replace(whole, c.cut, put, 1))
		lacks, told := q.Lacks(), q.Wanting()
		if len(lacks) != 1 || len(told) != 1 || lacks[0].Path != c.path || lacks[0].Clause != "7.8.2.1 "+c.clause || told[0].Path != c.path || told[0].Line < 2 {
			t.Errorf("without %q: %+v, %v", c.cut, lacks, told)
		}
		if len(q.Objections()) > 0 {
			t.Errorf("without %q the plan is refused: %v", c.cut, q.Objections())
		}
	}
	called := strings.Replace(whole, `address: "46 Weir Lane, Tarnholt", contact: "Ines Colvane, plant office, extension 484"`, `phone: "01632 960114"`, 1)
	if lacks := loadText(t, called).Lacks(); len(lacks) > 0 {
		t.Errorf("a client may be reached by telephone, yet the plan lacks %v", lacks)
	}
	one := strings.NewReplacer("serial: BCW-21413\n      ", "", "serial: SP-6110, ", "").Replace(whole)
	if lacks := loadText(t, one).Lacks(); len(lacks) > 0 {
		t.Errorf("an asset number tells plant from others, yet it lacks %v", lacks)
	}
}

// A serial number of one maker stands for one piece of plant, and a year is a year.
func TestPlates_refused(t *testing.T) {
	for was, want := range map[string]string{
		"serial: BCW-21413":                 "serial BCW-58064 stands already at line",
		"year: 2019\n      asset: TH-TR-40": `"19" is no year`,
	} {
		is := map[string]string{"serial: BCW-21413": "serial: BCW-58064", "year: 2019\n      asset: TH-TR-40": "year: 19\n      asset: TH-TR-40"}[was]
		p := loadText(t, strings.Replace(string(demo.Plan), was, is, 1))
		if got := p.Objections(); len(got) != 1 || !strings.Contains(got[0].Cause, want) {
			t.Errorf("%q: %v", is, got)
		}
	}
}

// What no check is judged with opens none when it is amended: a client, a serial number;
// a rating does.
func TestBaseWritten_papers(t *testing.T) {
	was := loadText(t, string(demo.Plan)).BaseWritten()
	for _, c := range []struct {
		from, to string
		same     bool
	}{
		{"client: {name: Tarnholt Water", "client: {name: Tarnholt Waterworks", true},
		{"order: TW-5044", "order: TW-5045", true},
		{"serial: BCW-21413", "serial: BCW-21414", true},
		{"serial: SP-6110, year: 2002", "serial: SP-6111, year: 2003", true},
		{"impedance: 3.97 %", "impedance: 3.98 %", false},
		{"low: 6.54 kV", "low: 6.53 kV", false},
		{"short_time: 80 kA", "short_time: 65 kA", false},
		{"rule: guarded", "rule: simple", false},
	} {
		is := strings.Replace(string(demo.Plan), c.from, c.to, 1)
		if is == string(demo.Plan) {
			t.Fatalf("%q does not stand in the demo's plan", c.from)
		}
		if same := loadText(t, is).BaseWritten() == was; same != c.same {
			t.Errorf("%s -> %s: judged with the same: %v, want %v", c.from, c.to, same, c.same)
		}
	}
}

func loadText(t *testing.T, text string) *plan.Plan {
	t.Helper()
	p, err := plan.Load("plan.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A plan from elsewhere names files beside it alone: it does not say what is read of a
// computer. The head of a page has one line.
func TestOwnForm_refused(t *testing.T) {
	for given, refused := range map[string]bool{
		"logo: logo.png": false, "logo: forms/logo.png": false, "labels: de": false, "heading: Waterworks": false,
		"logo: ../logo.png": true, "logo: /etc/logo.png": true, "logo: forms/../../logo.png": true, `logo: 'C:\logo.png'`: true,
		"labels: ./own.yaml": true, "heading: " + strings.Repeat("a", 101): true, "number: \"a\\nb\"": true,
	} {
		p := loadText(t, string(demo.Plan)+"\nform: {"+given+"}\n")
		if got := len(p.Objections()) > 0; got != refused {
			t.Errorf("%s: refused %v, want %v: %v", given, got, refused, p.Objections())
		}
	}
}
