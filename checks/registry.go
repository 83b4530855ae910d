package checks

import "sort"

var registry = map[string]*Kind{}

// register adds a kind at package-variable time.
func register(k *Kind) *Kind {
	if registry[k.Name] != nil {
		panic("checks: kind " + k.Name + " is registered twice")
	}
	registry[k.Name] = k
	return k
}

// Traits are what a plan knows of a kind: all but how it asks and judges. They stand in
// Kind as long as plan and kind share a package.
type Traits = Kind

// traitsNamed finds the traits of a kind, nil when there is none.
func traitsNamed(name string) *Traits { return registry[name] }

// KindNamed finds a kind, nil when there is none.
func KindNamed(name string) *Kind { return registry[name] }

// KindNames lists the kinds in alphabetical order.
func KindNames() []string {
	out := make([]string, 0, len(registry))
	for name := range registry {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// KindOf is the kind of a check, with how it asks and judges.
func KindOf(c *Check) *Kind { return c.Kind }

// Take makes c a check of this kind.
func (k *Kind) Take(c *Check) { c.Kind = k }
