package checks

import (
	"reflect"
	"time"
)

// Kind is one kind of check: what it asks and how it judges. Each kind stands in
// a file of its own and registers itself; nothing else names kinds.
type Kind struct {
	Name     string // as in plans
	Title    string // as on sheets when the plan gives none
	Group    string // which group of checks it is shown with
	Anywhere bool   // shown with the checks before it in the plan, in Group only when it stands first
	Live     bool   // taken on or near live conductors
	Dead     bool   // taken on plant that must have been proved dead first
	Proves   bool   // its pass proves the plant dead
	Joins    bool   // shows whether live sides may be joined, loaded or parted: every hold below needs it
	Counts   bool   // counts back what the work took: taken when the work is done, and again after more of it

	// Cautions are shown before the first question and with every finding.
	Cautions []string

	// Sources are where its default limits come from.
	Sources []string

	// Given makes a pointer to the kind's parameters, nil when it has none.
	Given func() any

	// Validate notes what a check misses in its plan, by key of Given.
	Validate func(p *Plan, c *Check, say func(key, format string, args ...any))

	// Object notes what the plan can be read with and may not be worked by; nil when
	// the kind objects to nothing beyond the floors of its values.
	Object func(p *Plan, c *Check, say func(key, format string, args ...any))

	// Form is what the check asks, in order.
	Form func(in Input) []Field

	// Doubts names readings that cannot be right, before they are judged.
	Doubts func(in Input) []Doubt

	// Refuse names answers that no reason keeps: they are refused as typed. nil when
	// the kind has none.
	Refuse func(in Input) []Doubt

	// AtOnce names the answers that bring a stop before all of them are there; nil for
	// kinds that have none such.
	AtOnce func(in Input) []string

	// Judge works out the finding. The engine has already dealt with missing
	// answers, instruments and doubts.
	Judge func(w *Work)

	// Rests names the checks above c whose work it was taken on, beside those whose
	// tap position it refers to; nil when there are none.
	Rests func(p *Plan, c *Check) []string

	// Due says when the next open line of a begun check falls due, for kinds that
	// are read over hours: the walk goes on with other checks until then. ok is
	// false when no line waits for a time. nil when none ever does.
	Due func(in Input) (due time.Time, ok bool)

	// Predict says what to expect before anything is read, for plan check.
	Predict func(p *Plan, c *Check) []Prediction
}

// Input is what a form or a judgement may look at.
type Input struct {
	Plan    *Plan
	Check   *Check
	Answers Answers
	Before  map[string]Past // earlier checks of the job, by id
	At      time.Time       // when the answers were given

	// Steps are the hold points whose step was recorded so far, by id, with the
	// time it was taken.
	Steps map[string]time.Time
}

// HoldAbove is the nearest hold point above the check in its plan, HoldBelow the
// nearest one below; nil when there is none.
func (in Input) HoldAbove() *Hold { above, _ := in.Plan.holdsAround(in.Check.ID); return above }

// HoldBelow is the nearest hold point below the check in its plan.
func (in Input) HoldBelow() *Hold { _, below := in.Plan.holdsAround(in.Check.ID); return below }

// Taken is when the step of a hold point was taken; ok is false while it was not,
// and for no hold point.
func (in Input) Taken(h *Hold) (at time.Time, ok bool) {
	if h == nil {
		return time.Time{}, false
	}
	at, ok = in.Steps[h.ID]
	return at, ok
}

// Past is what an earlier check came to.
type Past struct {
	Answers Answers
	Finding Finding
	At      time.Time // when it was judged
}

// Doubt is a reading that cannot be right as it stands.
type Doubt struct {
	Fields []string
	Said
}

// Prediction is a value to expect, printed by plan check.
type Prediction struct {
	Name   string `json:"name"`
	Text   string `json:"text"`
	Source string `json:"source"`
	Warn   bool   `json:"warn,omitempty"` // outside what is allowed
}

// Form is what the check asks, with what its plan and earlier answers expect.
func (in Input) Form() []Field {
	form := KindOf(in.Check).Form(in)
	if in.Check.Tried {
		return tried(form)
	}
	return form
}

// Doubts names the readings of in that cannot be right.
func (in Input) Doubts() []Doubt {
	var out []Doubt
	if doubts := KindOf(in.Check).Doubts; doubts != nil {
		out = doubts(in)
	}
	return append(out, unnamed(in.impossible(), out)...)
}

// StopsAtOnce names the answers that bring a stop before all of them are there.
func (in Input) StopsAtOnce() []string {
	if atOnce := KindOf(in.Check).AtOnce; atOnce != nil {
		return atOnce(in)
	}
	return nil
}

// Due is when the next open line of a begun check falls due; ok is false when none
// waits for a time.
func (in Input) Due() (due time.Time, ok bool) {
	if next := KindOf(in.Check).Due; next != nil {
		return next(in)
	}
	return time.Time{}, false
}

// Refused names the answers of in that no reason keeps.
func (in Input) Refused() []Doubt {
	if refuse := KindOf(in.Check).Refuse; refuse != nil {
		return refuse(in)
	}
	return nil
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
	if k.Given == nil {
		return out
	}
	for _, f := range fieldsOf(reflect.ValueOf(k.Given()).Elem()) {
		out = append(out, Parameter{f.name, f.need, f.one, f.doc, boundsOf(join(k.Name, f.name))})
	}
	return out
}
