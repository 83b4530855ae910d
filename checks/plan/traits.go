package plan

import (
	"maps"
	"reflect"
	"slices"
)

// About says what a kind of check is.
type About struct {
	Name     string // as in plans
	Title    string // as on sheets when the plan gives none
	Group    string // which group of checks it is shown with
	Anywhere bool   // shown with the checks before it in the plan, in Group only when it stands first
	Live     bool   // taken on or near live conductors
	Dead     bool   // taken on plant that must have been proved dead first
	Proves   bool   // its pass proves the plant dead
	Joins    bool   // shows whether live sides may be joined, loaded or parted: every hold below needs it
	Across   bool   // its pass shows the phases across an open device to be the same, which rotation or volts of one side alone do not
	Counts   bool   // counts back what the work took: taken when the work is done, and again after more of it

	// Cautions are shown before the first question and with every finding.
	Cautions []string

	// Sources are where its default limits come from.
	Sources []string
}

// Traits are what a plan knows of a kind of check: all but how it asks and judges, which
// the package that judges adds.
type Traits struct {
	About

	// Given makes a pointer to the kind's parameters.
	Given func() any

	// Validate notes what a check misses in its plan, by key of Given.
	Validate func(p *Plan, c *Check, say Say)

	// Object notes what the plan can be read with and may not be worked by; nil when
	// the kind objects to nothing beyond the floors of its values.
	Object func(p *Plan, c *Check, say Say)

	// Rests names the checks above c whose work it was taken on, beside those whose
	// tap position it refers to; nil when there are none.
	Rests func(p *Plan, c *Check) []string

	// Predict says what to expect before anything is read, for plan check.
	Predict func(p *Plan, c *Check) []Prediction

	// Judged is the kind with how it asks and judges, for the package that does; a
	// plan does not look into it.
	Judged any
}

var registry = map[string]*Traits{}

// AddTraits adds what a plan knows of a kind, at package-variable time.
func AddTraits(k *Traits) {
	if registry[k.Name] != nil {
		panic("plan: kind " + k.Name + " is registered twice")
	}
	registry[k.Name] = k
}

// TraitsNamed finds what a plan knows of a kind, nil when there is none so named.
func TraitsNamed(name string) *Traits { return registry[name] }

// KindNames lists the kinds in alphabetical order.
func KindNames() []string { return slices.Sorted(maps.Keys(registry)) }

// Prediction is a value to expect, printed by plan check.
type Prediction struct {
	Name   string `json:"name"`
	Text   string `json:"text"`
	Source string `json:"source"`
	Warn   bool   `json:"warn,omitempty"` // outside what is allowed
}

// Parameter is one key of what a kind is given in the plan.
type Parameter struct {
	Name string   `json:"name"`
	Need bool     `json:"need"`
	One  []string `json:"one,omitempty"` // the only words accepted
	Doc  string   `json:"doc"`

	Bounds string `json:"bounds,omitempty"` // what any plan may give, in words
}

// Parameters lists what a kind is given in the plan.
func (k *Traits) Parameters() []Parameter {
	out := []Parameter{}
	for _, f := range FieldsOf(reflect.ValueOf(k.Given()).Elem()) {
		out = append(out, Parameter{f.Name, f.need, f.One, f.doc, boundsOf(Join(k.Name, f.Name))})
	}
	return out
}

// Say notes a problem under a key of what a check is given.
type Say = func(key, format string, args ...any)
