package checks

import (
	"time"

	"handback/checks/plan"
)

// Spec is a kind whose checks are given a G. Each function takes what its check is
// given; those that Kind and plan.Traits allow to be nil may be nil here.
type Spec[G any] struct {
	plan.About

	Validate func(p *plan.Plan, c *plan.Check, g *G, say plan.Say)
	Object   func(p *plan.Plan, c *plan.Check, g *G, say plan.Say)
	Rests    func(p *plan.Plan, c *plan.Check, g *G) []string
	Predict  func(p *plan.Plan, c *plan.Check, g *G) []plan.Prediction

	Form   func(in Input, g *G) []Field
	Doubts func(in Input, g *G) []Doubt
	Refuse func(in Input, g *G) []Doubt
	AtOnce func(in Input, g *G) []string
	Fresh  func(in Input, g *G) time.Time
	Due    func(in Input, g *G) (due time.Time, ok bool)
	Judge  func(w *Work, g *G)

	Running func(in Input, g *G) (since time.Time, most time.Duration, ok bool)
}

// Define adds a kind at package-variable time.
func Define[G any](s Spec[G]) *Kind {
	k := &Kind{
		Traits: plan.Traits{About: s.About, Given: func() any { return new(G) },
			Validate: ofPlan(s.Validate), Object: ofPlan(s.Object), Rests: ofCheck(s.Rests), Predict: ofCheck(s.Predict)},
		Form: ofInput(s.Form), Doubts: ofInput(s.Doubts), Refuse: ofInput(s.Refuse), AtOnce: ofInput(s.AtOnce), Fresh: ofInput(s.Fresh),
		Judge: func(w *Work) { s.Judge(w, given[G](w.Check)) },
	}
	if s.Due != nil {
		k.Due = func(in Input) (time.Time, bool) { return s.Due(in, given[G](in.Check)) }
	}
	if s.Running != nil {
		k.Running = func(in Input) (time.Time, time.Duration, bool) { return s.Running(in, given[G](in.Check)) }
	}
	k.Judged = k
	plan.AddTraits(&k.Traits)
	return k
}

// given is what a check of a kind defined with G is given.
func given[G any](c *plan.Check) *G { return c.Given.(*G) }

func ofPlan[G any](f func(*plan.Plan, *plan.Check, *G, plan.Say)) func(*plan.Plan, *plan.Check, plan.Say) {
	if f == nil {
		return nil
	}
	return func(p *plan.Plan, c *plan.Check, say plan.Say) { f(p, c, given[G](c), say) }
}

func ofCheck[G, R any](f func(*plan.Plan, *plan.Check, *G) R) func(*plan.Plan, *plan.Check) R {
	if f == nil {
		return nil
	}
	return func(p *plan.Plan, c *plan.Check) R { return f(p, c, given[G](c)) }
}

func ofInput[G, R any](f func(Input, *G) R) func(Input) R {
	if f == nil {
		return nil
	}
	return func(in Input) R { return f(in, given[G](in.Check)) }
}
