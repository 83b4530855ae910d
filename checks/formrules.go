package checks

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"handback/checks/plan"
	"handback/checks/quantity"
)

var _ = plan.AddRule(formRules)

// formRules notes where a plan and the forms of its kinds do not fit: a trial of no
// instrument, an instrument that cannot read, a column for a field nobody asks.
func formRules(n *plan.Notes, p *plan.Plan) {
	for _, c := range p.Checks() {
		validateTried(n, p, c)
		validateReads(n, p, c)
	}
	for i := range p.Imports {
		importTargets(n, p, &p.Imports[i], fmt.Sprintf("imports[%d]", i+1))
	}
}

// blank is what a form is asked from before anything is read.
func blank(p *plan.Plan, c *plan.Check) Input {
	return Input{Plan: p, Check: c, Answers: Answers{}, Before: Pasts{}}
}

// validateTried notes a function_check where no instrument is asked for.
func validateTried(n *plan.Notes, p *plan.Plan, c *plan.Check) {
	form := KindOf(c).Form(blank(p, c))
	if c.Tried && !slices.ContainsFunc(form, func(f Field) bool { return f.Sort == MeterUsed }) {
		n.At(c.Path+".function_check", "check %s uses no instrument that could be tried", c.ID)
	}
}

// validateReads notes a planned instrument that can read nothing of what its check
// asks of it. One that reads a part may have another beside it on site.
func validateReads(n *plan.Notes, p *plan.Plan, c *plan.Check) {
	form := KindOf(c).Form(blank(p, c))
	for _, f := range form {
		m := p.Meter(f.Default)
		if f.Sort != MeterUsed || m == nil {
			continue
		}
		why, fits := "", false
		for _, g := range form {
			if of := quantity.QuantityOf(g.Unit); g.Meter == f.Key && g.Sort == Measured {
				fits = fits || m.CanRead(of)
				why = cmp.Or(why, m.Unreadable(of))
			}
		}
		if why != "" && !fits {
			n.Object(plan.Join(c.Path, "instrument"), "%s", why)
		}
	}
}

// importTargets notes columns and fixed answers that lead to no field.
func importTargets(n *plan.Notes, p *plan.Plan, m *plan.Import, path string) {
	for _, h := range slices.Sorted(maps.Keys(m.Columns)) {
		target(n, plan.Join(path+".columns", h), p, m.Columns[h])
	}
	for _, t := range slices.Sorted(maps.Keys(m.Fixed)) {
		where := plan.Join(path+".fixed", t)
		if f, ok := target(n, where, p, t); ok {
			if _, err := ParseAnswer(f, p, m.Fixed[t], time.Time{}); err != nil {
				n.At(where, "%v", err)
			}
		}
	}
}

// target finds the field that CHECK.FIELD names, and notes one that leads nowhere.
func target(n *plan.Notes, where string, p *plan.Plan, target string) (Field, bool) {
	check, field := plan.CutTarget(target)
	c := p.Check(check)
	if c == nil || field == "" {
		n.At(where, "%q: CHECK.FIELD is wanted, with a check of the plan%s", target, plan.Nearest(check, plan.IDsOf(p.Checks(), func(c *plan.Check) string { return c.ID })))
		return Field{}, false
	}
	form := blank(p, c).Form()
	f, ok := FieldNamed(form, field)
	if !ok {
		n.At(where, "check %s asks no %q%s", check, field, plan.Nearest(field, KeysOf(form)))
	}
	return f, ok
}

// With is in with more answers. A reading belongs to the instrument it was taken
// with: where another instrument is named, the readings that were taken with the one
// before are gone and must be taken again.
func (in Input) With(got Answers) Input {
	out := Answers{}
	maps.Copy(out, in.Answers)
	other := map[string]bool{} // instruments
	for key, is := range got {
		if was, had := in.Answers[key]; had && was.Word != is.Word {
			other[key] = true
		}
	}
	if len(other) > 0 {
		for _, f := range in.Form() {
			if other[f.Meter] {
				delete(out, f.Key)
			}
		}
	}
	maps.Copy(out, got)
	in.Answers = out
	return in
}
