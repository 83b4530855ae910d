package checks

import "handback/checks/plan"

// KindNamed finds a kind, nil when there is none.
func KindNamed(name string) *Kind {
	if t := plan.TraitsNamed(name); t != nil {
		return t.Judged.(*Kind)
	}
	return nil
}

// KindOf is the kind of a check, with how it asks and judges.
func KindOf(c *plan.Check) *Kind { return c.Kind.Judged.(*Kind) }

// Take makes c a check of this kind.
func (k *Kind) Take(c *plan.Check) {
	k.Judged = k
	c.Kind = &k.Traits
}
