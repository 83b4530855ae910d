package templates_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"handback/checks/plan"
	"handback/templates"
	"handback/testdata/starters"
)

// A starter plan is sound once it is filled in, and refused before; it expects nothing
// outside its own limits, opens with the cautions, and says of every key what it is.
func TestPlans(t *testing.T) {
	works := templates.Plans()
	if len(works) == 0 {
		t.Fatal("no starter plans")
	}
	for _, work := range works {
		t.Run(work, func(t *testing.T) {
			data, err := templates.Plan(work)
			if err != nil {
				t.Fatal(err)
			}
			untouched, err := plan.Load(work+".yaml", data)
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range untouched.Objections() {
				if !strings.Contains(q.Cause, "REPLACE") && !strings.Contains(q.Cause, "is a starter's text") {
					t.Errorf("untouched it has more than its marks: %s", q)
				}
			}
			if len(untouched.Objections()) < 8 {
				t.Errorf("untouched it is objected to for %v alone", untouched.Objections())
			}
			plan, err := plan.Load(work+".yaml", starters.FilledIn(data))
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range slices.Concat(plan.Objections(), plan.Warnings(), plan.Wanting()) {
				t.Errorf("filled in: %s", q)
			}
			if plan.ID != work {
				t.Errorf("its id is %s", plan.ID)
			}
			for _, c := range plan.Checks() {
				if c.Kind.Predict == nil {
					continue
				}
				for _, e := range c.Kind.Predict(plan, c) {
					if e.Warn {
						t.Errorf("check %s: %s: %s is out of limits", c.ID, e.Name, e.Text)
					}
				}
			}
			saysCautions(t, string(data))
			explainsKeys(t, string(data))
		})
	}
}

func saysCautions(t *testing.T, plan string) {
	head, _, _ := strings.Cut(plan, "\nhandback: 1")
	head = strings.Join(strings.Fields(strings.ReplaceAll(head, "#", "")), " ")
	for _, words := range []string{
		"it authorises nothing. The local rules, the permit and the person licensed to decide come first",
		"An unlit indicator is never proof of dead",
		"Everything below is invented. Each line marked REPLACE",
	} {
		if !strings.Contains(head, words) {
			t.Errorf("the head does not say %q", words)
		}
	}
	if !strings.Contains(plan, "# REPLACE") {
		t.Error("no line is marked REPLACE")
	}
}

var planKey = regexp.MustCompile(`([a-z_]+):(?: |$)`)

// explainsKeys demands a comment on, or right above, some line of every key, or
// one that names it with a colon.
func explainsKeys(t *testing.T, plan string) {
	explained := map[string]bool{}
	above := false
	for _, line := range strings.Split(plan, "\n") {
		code, comment, _ := strings.Cut(line, "#")
		says := strings.TrimSpace(comment) != "" && strings.TrimSpace(comment) != "REPLACE"
		if strings.TrimSpace(code) == "" {
			above = says
			continue
		}
		for _, m := range planKey.FindAllStringSubmatch(code, -1) {
			explained[m[1]] = explained[m[1]] || says || above
		}
		above = false
	}
	if len(explained) < 30 {
		t.Fatalf("%d keys found: the plan was not read", len(explained))
	}
	for key, ok := range explained {
		if !ok && !regexp.MustCompile(`#.*\b`+key+`: `).MatchString(plan) {
			t.Errorf("key %s: no comment says what it is", key)
		}
	}
}
