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
