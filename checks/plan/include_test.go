package plan_test

import (
	"strings"
	"testing"

	"handback/checks/plan"
	"handback/checks/written"
)

// limitsText is what checks share.
const limitsText = `limits:
  - id: drives
    kind: unbalance
    given: {limit: 0.5 %, source: owner's standard}
`

// parted is the plan of the loader's tests with its instruments and people in files of
// their own.
func parted(t *testing.T) []written.Part {
	t.Helper()
	cut := func(text, from, to string) (piece, rest string) {
		i, j := strings.Index(text, "\n"+from+":")+1, strings.Index(text, "\n"+to+":")+1
		if i <= 0 || j <= i {
			t.Fatalf("no %s before %s in the plan", from, to)
		}
		return text[i:j], text[:i] + text[j:]
	}
	meters, text := cut(planText, "instruments", "plant")
	return []written.Part{
		{Name: "plan.yaml", Text: []byte(text + "include: [register/, limits.yaml]\n")},
		{Name: "register/meters.yaml", Text: []byte("# the van\n" + meters)},
		{Name: "limits.yaml", Text: []byte(limitsText)},
	}
}

func load(t *testing.T, parts []written.Part) (*plan.Plan, error) {
	t.Helper()
	return plan.Load("plan.yaml", written.Whole(parts))
}

// A plan whose parts stand in other files is the plan with all in one file.
func TestInclude_same(t *testing.T) {
	parts := parted(t)
	parts[0].Text = append(parts[0].Text[:len(parts[0].Text):len(parts[0].Text)], '\n')
	in, err := load(t, parts)
	if err != nil {
		t.Fatal(err)
	}
	one, err := plan.Load("plan.yaml", []byte(planText))
	if err != nil {
		t.Fatal(err)
	}
	if d := plan.Differences(one, in); len(d) > 0 {
		t.Errorf("differs: %v", d)
	}
	if len(in.Meters) == 0 || in.Meters[0].ID != one.Meters[0].ID {
		t.Errorf("instruments %v", in.Meters)
	}
}

func TestInclude_problems(t *testing.T) {
	sound := parted(t)
	if _, err := load(t, sound); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		part      int
		old, with string
		says      string
	}{
		"a date":              {1, "due: ", "due: soon ", "register/meters.yaml:"},
		"no YAML":             {1, "# the van", "a: [", "register/meters.yaml:"},
		"a key of the plan":   {2, "limits:", "id: other\nlimits:", "limits.yaml:1:1: id: belongs to the plan itself"},
		"a scalar twice":      {2, "limits:", "site: elsewhere\nlimits:", "limits.yaml:1:1: site: stands already at plan.yaml, line 4: keep one"},
		"a key twice":         {2, "limits:", "rule: simple\nrule: simple\nlimits:", "limits.yaml:2:1: rule: given twice"},
		"unknown key":         {2, "limits:", "limit: 1\nlimits:", "limits.yaml:1:1: limit: unknown key: did you mean limits?"},
		"nested":              {2, "limits:", "include: [more.yaml]\nlimits:", "limits.yaml:1:1: include: belongs to the plan itself"},
		"kind of limits":      {2, "kind: unbalance", "kind: unbalanced", "limits.yaml:3:11: limits[drives]: unknown kind"},
		"key of limits":       {2, "{limit:", "{limits:", "limits.yaml:4:21: limits[drives]: unknown key limits: did you mean limit?"},
		"not read":            {0, "limits.yaml]", "limits.yaml, more.yaml]", `include[3]: "more.yaml": it was not read with the plan`},
		"an empty folder":     {0, "limits.yaml]", "limits.yaml, more/]", `include[3]: "more/": no file ending in .yaml stands in it`},
		"twice":               {0, "limits.yaml]", "limits.yaml, limits.yaml]", `include[3]: "limits.yaml" stands twice`},
		"out of the folder":   {0, "limits.yaml]", "limits.yaml, ../x.yaml]", `include[3]: "../x.yaml": a file in the plan's folder or below`},
		"not included":        {0, ", limits.yaml]", "]", `"limits.yaml" stands behind the plan, which does not include it`},
		"marked":              {1, "# the van", "# REPLACE", "register/meters.yaml:1:1: 1 line is still marked REPLACE: 1"},
		"an instrument twice": {2, "limits:", "instruments:\n  - {id: dmm, name: other, serial: EX-99, due: 2027-01-01}\nlimits:", "register/meters.yaml, line "},
	} {
		parts := append([]written.Part(nil), sound...)
		text := strings.Replace(string(parts[c.part].Text), c.old, c.with, 1)
		if text == string(parts[c.part].Text) {
			t.Errorf("%s: nothing to replace", name)
			continue
		}
		parts[c.part].Text = []byte(text)
		p, err := load(t, parts)
		if err == nil && len(p.Objections()) > 0 {
			err = p.Objections()
		}
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v\nwant %q", name, err, c.says)
		}
	}
}

// Limits that checks share stand in each as if they were written there.
func TestLimits_shared(t *testing.T) {
	const check = "  - check: u\n    kind: unbalance\n"
	load := func(t *testing.T, check string) (*plan.Plan, error) {
		return plan.Load("p", []byte(planText+check+limitsText))
	}
	shared, err := load(t, check+"    limits: drives\n")
	if err != nil {
		t.Fatal(err)
	}
	own, err := load(t, check+"    given: {limit: 0.5 %, source: owner's standard}\n")
	if err != nil {
		t.Fatal(err)
	}
	if d := plan.Differences(own, shared); len(d) > 0 {
		t.Errorf("differs: %v", d)
	}
	if a, b := own.StepWritten("u"), shared.StepWritten("u"); a != b || a == "" {
		t.Errorf("written as %q and %q: another limit must judge the check again", a, b)
	}
	for says, check := range map[string]string{
		`no limits "drive": did you mean drives?`: check + "    limits: drive\n",
		"limits drives are for another kind":      strings.Replace(check, "unbalance", "rotation", 1) + "    limits: drives\n    given: {expected: forward}\n",
		"in the limits it shares: keep one":       check + "    limits: drives\n    given: {limit: 2 %}\n",
	} {
		if _, err := load(t, check); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\nwant %q", err, says)
		}
	}
}

// procedureText is what several plans follow, in a file of its own.
const procedureText = `procedures:
  - {id: ms, title: Invented method statement, number: MS-1, revision: B, sections: ["2.1", "2.2"]}
  - {id: tp, title: Invented test procedure, number: TP-7, revision: C}
  - {id: other, title: What another plan follows, number: TP-8, revision: A}
`

func procedural(t *testing.T, old, with string) (*plan.Plan, error) {
	t.Helper()
	parts := parted(t)
	text := string(parts[0].Text)
	text = strings.Replace(text, "limits.yaml]", "limits.yaml, procedures.yaml]\nprocedure: ms", 1)
	text = strings.Replace(text, "    action: close the incomer of MB-B\n", "    action: close the incomer of MB-B\n    section: \"2.2\"\n  - {step: tell, action: Tell the control room, procedure: tp, section: 4.1}\n  - {check: u, kind: unbalance, limits: drives, procedure: tp}\n", 1)
	parts[0].Text = []byte(text)
	parts = append(parts, written.Part{Name: "procedures.yaml", Text: []byte(procedureText)})
	if old != "" {
		n := 0
		for i, p := range parts {
			n += strings.Count(string(p.Text), old)
			parts[i].Text = []byte(strings.Replace(string(p.Text), old, with, 1))
		}
		if n != 1 {
			t.Fatalf("%q stands %d times in the plan", old, n)
		}
	}
	return load(t, parts)
}

// What a check, step or hold point follows is told with number and revision where it names
// the procedure, by its section alone where it is that of the plan.
func TestProcedures(t *testing.T) {
	p, err := procedural(t, "", "")
	if err != nil {
		t.Fatal(err)
	}
	for got, want := range map[string]string{
		p.Hold("close").Follows.Words:               "section 2.2",
		p.Step("tell").Follows.Words:                "TP-7, revision C, section 4.1",
		p.Check("u").Follows.Words:                  "TP-7, revision C",
		p.Checks()[0].Follows.Words:                 "",
		strings.Join(p.Naming("tp"), " "):           "tell u",
		p.Used()[0].Words() + p.Used()[1].Words():   "MS-1, revision BTP-7, revision C",
		p.ProcedureWritten("u")[:8]:                 "{id: tp,",
		p.ProcedureWritten(p.Checks()[0].ID)[:8]:    "{id: ms,",
		p.ProcedureWritten("no-such-step") + "none": "none",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if len(p.Used()) != 2 {
		t.Errorf("used: %v; another plan's is not among them", p.Used())
	}
	next, err := procedural(t, "number: TP-7, revision: C", "number: TP-7, revision: D")
	if err != nil {
		t.Fatal(err)
	}
	if d := plan.Differences(p, next); len(d) != 1 || d[0] != (plan.Difference{Path: "procedures[tp].revision", Was: "C", Is: "D"}) {
		t.Errorf("differs: %v", d)
	}
	if p.BaseWritten() != next.BaseWritten() || p.StepWritten("u") != next.StepWritten("u") || p.ProcedureWritten("u") == next.ProcedureWritten("u") {
		t.Error("another revision changes what a check follows, and nothing that it is judged with")
	}
}

func TestProcedures_refused(t *testing.T) {
	for says, c := range map[string][2]string{
		`steps[5].procedure: no procedure "tq": did you mean tp?`:                                 {"drives, procedure: tp", "drives, procedure: tq"},
		`procedure: no procedure "mt": did you mean ms?`:                                          {"procedure: ms", "procedure: mt"},
		`section: MS-1, revision B has no section "2.3": it has 2.1, 2.2`:                         {`section: "2.2"`, `section: "2.3"`},
		`procedures.yaml:3:10: procedures[2].id: "ms" stands already at procedures.yaml, line 2:`: {"id: tp", "id: ms"},
		"procedures.yaml:3:5: procedures[2].revision: missing: its revision, or its date":         {", number: TP-7, revision: C", ", number: TP-7"},
		"procedures.yaml:3:": {"number: TP-7", "nummer: TP-7"},
	} {
		if _, err := procedural(t, c[0], c[1]); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\nwant %q", err, says)
		}
	}
	s := compiled(t)
	if err := validate(t, s, procedureText); err != nil {
		t.Errorf("a file of procedures: %v", err)
	}
	for _, c := range [][2]string{{"number: TP-7", "nummer: TP-7"}, {", revision: C", ""}, {"id: tp", "id: T P"}, {`["2.1", "2.2"]`, `"2.1"`}} {
		text := strings.Replace(procedureText, c[0], c[1], 1)
		if text == procedureText || validate(t, s, text) == nil {
			t.Errorf("the schema accepts %q", c[1])
		}
	}
	if slip := strings.Replace(planText, "  - hold: close\n", "  - hold: close\n    procedure: t p\n", 1); slip == planText || validate(t, s, slip) == nil {
		t.Error("the schema accepts a procedure that no id can name")
	}
}

// People stand in a file of their own with the keys they sign with and those nobody trusts
// any more; what is wrong there is told there.
func TestInclude_people(t *testing.T) {
	const one = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEB" // of no secret: 32 bytes 1
	const two = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAICAgICAgICAgICAgICAgICAgICAgICAgICAgICAgIC" // likewise, of 2
	people := func(cleos, doras string) (*plan.Plan, error) {
		parts := parted(t)
		parts[0].Text = []byte(strings.Replace(string(parts[0].Text), "limits.yaml]", "limits.yaml, people.yaml]", 1))
		parts = append(parts, written.Part{Name: "people.yaml", Text: []byte("people:\n" +
			"  - {id: cleo, name: Cleo Example, role: engineer, keys: [" + cleos + "], revoked: [{key: " + two + ", from: 2026-03-02T02:00:00+01:00, why: laptop stolen}]}\n" +
			"  - {id: dora, name: Dora Example, role: owner, keys: [" + doras + "]}\n")})
		return load(t, parts)
	}
	p, err := people(one, "")
	if err != nil {
		t.Fatal(err)
	}
	if q := p.Person("cleo"); q == nil || len(q.Keys) != 1 || q.Keys[0] != one || len(q.Revoked) != 1 || q.Revoked[0].Key != two {
		t.Errorf("cleo: %+v", q)
	}
	for says, keys := range map[string][2]string{
		"this key stands already at people.yaml, line 2: a key is one person's":        {one, one},
		"people.yaml:2:59: people[3].keys[1]: the ssh-ed25519 key is not whole":        {one[:60], ""},
		"this key is revoked, and is listed at people.yaml, line 3: take it out there": {one, two},
	} {
		if _, err := people(keys[0], keys[1]); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\nwant %q", err, says)
		}
	}
}
