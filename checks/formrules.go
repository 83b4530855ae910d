package checks

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"
)

var _ = addRule(formRules)

// formRules notes where a plan and the forms of its kinds do not fit: a trial of no
// instrument, an instrument that cannot read, a column for a field nobody asks.
func formRules(n *notes, p *Plan) {
	for _, c := range p.Checks() {
		n.validateTried(p, c)
		n.validateReads(p, c)
	}
	for i := range p.Imports {
		n.importTargets(p, &p.Imports[i], fmt.Sprintf("imports[%d]", i+1))
	}
}

// blank is what a form is asked from before anything is read.
func blank(p *Plan, c *Check) Input {
	return Input{Plan: p, Check: c, Answers: Answers{}, Before: map[string]Past{}}
}

// validateTried notes a function_check where no instrument is asked for.
func (n *notes) validateTried(p *Plan, c *Check) {
	form := KindOf(c).Form(blank(p, c))
	if c.Tried && !slices.ContainsFunc(form, func(f Field) bool { return f.Sort == MeterUsed }) {
		n.at(c.path+".function_check", "check %s uses no instrument that could be tried", c.ID)
	}
}

// validateReads notes a planned instrument that can read nothing of what its check
// asks of it. One that reads a part may have another beside it on site.
func (n *notes) validateReads(p *Plan, c *Check) {
	form := KindOf(c).Form(blank(p, c))
	for _, f := range form {
		m := p.Meter(f.Default)
		if f.Sort != MeterUsed || m == nil {
			continue
		}
		why, fits := "", false
		for _, g := range form {
			if of := QuantityOf(g.Unit); g.Meter == f.Key && g.Sort == Measured {
				fits = fits || m.canRead(of)
				why = cmp.Or(why, m.unreadable(of))
			}
		}
		if why != "" && !fits {
			n.object(join(c.path, "instrument"), "%s", why)
		}
	}
}

// importTargets notes columns and fixed answers that lead to no field.
func (n *notes) importTargets(p *Plan, m *Import, path string) {
	for _, h := range slices.Sorted(maps.Keys(m.Columns)) {
		n.target(join(path+".columns", h), p, m.Columns[h])
	}
	for _, target := range slices.Sorted(maps.Keys(m.Fixed)) {
		where := join(path+".fixed", target)
		if f, ok := n.target(where, p, target); ok {
			if _, err := ParseAnswer(f, p, m.Fixed[target], time.Time{}); err != nil {
				n.at(where, "%v", err)
			}
		}
	}
}

// target finds the field that CHECK.FIELD names, and notes one that leads nowhere.
func (n *notes) target(where string, p *Plan, target string) (Field, bool) {
	check, field := CutTarget(target)
	c := p.Check(check)
	if c == nil || field == "" {
		n.at(where, "%q: CHECK.FIELD is wanted, with a check of the plan%s", target, nearest(check, idsOf(p.Checks(), func(c *Check) string { return c.ID })))
		return Field{}, false
	}
	form := blank(p, c).Form()
	f, ok := FieldNamed(form, field)
	if !ok {
		n.at(where, "check %s asks no %q%s", check, field, nearest(field, KeysOf(form)))
	}
	return f, ok
}
