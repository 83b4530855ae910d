package plan

import (
	"slices"

	"handback/checks/network"
	"handback/checks/quantity"
)

// Played is the dry run of a plan: its steps, and what the passes of its checks find,
// played on its network from the normal states. Step numbers are those of the items, from
// 1. It is nil for a plan without a network.
func (p *Plan) Played() *network.Run { return p.played }

// Breaches are the objections that the dry run raises: the rules that nobody may override
// which the first such step breaks. The plan's network and steps are at odds there.
func (p *Plan) Breaches() Problems { return p.breaches }

// moves are the steps of a plan as its network takes them, with the number of the item
// of each. A finding without a planned time is taken as late as the plan lets it be: when
// the next step is planned. Nobody plans to let it grow old first.
func (p *Plan) moves() (steps []network.Step, numbers []int) {
	for i, it := range p.items {
		if m, ok := it.Moves(); ok {
			for k := i + 1; it.Check != nil && !m.Timed && k < len(p.items); k++ {
				m.At, m.Timed = since(p.items[k].planned())
			}
			steps, numbers = append(steps, m), append(numbers, i+1)
		}
	}
	return steps, numbers
}

// Moves is what an item does on the network: its step, or what a pass of its check finds.
func (it Item) Moves() (network.Step, bool) {
	if it.Check != nil {
		return it.Check.Finds()
	}
	return it.Does().Moves()
}

// play takes the dry run of a plan with a network, and objects to what nobody may override.
func (n *Notes) play(p *Plan) {
	if p.grid == nil {
		return
	}
	steps, numbers := p.moves()
	s, m := p.grid.Start()
	run := p.grid.Play(s, m, steps, p.Ends())
	if run.Refused() {
		n.breaches(p, run, numbers)
	}
	for i, l := range run.Lines {
		run.Lines[i].Step = numbers[l.Step-1]
	}
	for i, x := range run.Parallels {
		if x.From > 0 {
			run.Parallels[i].From = numbers[x.From-1]
		}
		if x.To > 0 {
			run.Parallels[i].To = numbers[x.To-1]
		}
	}
	p.played = &run
}

// breaches objects to the first step of a dry run that breaks a rule which nobody may
// override: those below may follow from it. One that does so only because a step above it
// was not done, and that one somebody may override, is no objection: it is not refused
// when all such steps are done.
func (n *Notes) breaches(p *Plan, run network.Run, numbers []int) {
	steps, _ := p.moves()
	for i := range steps {
		steps[i].Leave = mayLeave
	}
	s, m := p.grid.Start()
	granted := p.grid.Play(s, m, steps, p.Ends())
	for i, l := range run.Lines {
		it := p.items[numbers[i]-1]
		var told []network.Rule
		for _, r := range l.Refused {
			same := func(x network.Refusal) bool { return x.Rule == r.Rule && !x.Overridable() }
			if r.Overridable() || slices.Contains(told, r.Rule) || !slices.ContainsFunc(granted.Lines[i].Refused, same) {
				continue
			}
			told = append(told, r.Rule)
			p.breaches = append(p.breaches, n.problem(it.path(),
				"step %s breaks rule %s, which nobody may override: handback plan check tells what stands in the way, here and below", it.ID(), r.Rule))
		}
		if len(told) > 0 {
			break
		}
	}
	n.objected = append(n.objected, p.breaches...)
}

// planned is when an item is to be taken, nil when the plan does not say.
func (it Item) planned() *quantity.Second {
	if it.Check != nil {
		return it.Check.Planned
	}
	return it.Does().Planned
}

// path is where an item stands in its plan.
func (it Item) path() string {
	if it.Check != nil {
		return it.Check.Path
	}
	return it.Does().Path
}
