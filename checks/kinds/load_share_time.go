package kinds

import (
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
)

// stepSlack is how far a typed time may stand from that of a recorded step: times
// are typed to the minute (our choice).
const stepSlack = time.Minute

// beforeClosing are the kinds that are taken on a side at no load, while the device
// that is to close in parallel is still open.
var beforeClosing = map[string]bool{"phase-presence": true, "rotation": true, "lv-volts": true, "unbalance": true,
	"parallel-balance": true, "cross-volts": true, "sync": true}

// closedBy is the hold point whose step closed in parallel: the one directly above
// the check. nil where a check that needs the device open stands between the two:
// it was closed after that, by a step that is not recorded.
func closedBy(in checks.Input) *plan.Hold {
	var above *plan.Hold
	for _, it := range in.Plan.Items() {
		switch {
		case it.Step != nil:
		case it.Hold != nil:
			above = it.Hold
		case it.Check.ID == in.Check.ID:
			return above
		case beforeClosing[it.Check.Kind.Name]:
			above = nil
		}
	}
	return nil
}

// openedBy is the hold point whose step opens the coupler: the one directly below
// the check. nil where the coupler is looked at as open before that.
func openedBy(in checks.Input) *plan.Hold {
	passed := false
	for _, it := range in.Plan.Items() {
		switch {
		case it.Check != nil && it.Check.ID == in.Check.ID:
			passed = true
		case it.Step != nil:
		case passed && it.Hold != nil:
			return it.Hold
		case passed && it.Check.Kind.Name == "after-opening":
			return nil
		}
	}
	return nil
}

// closedField asks when the incomers were closed in parallel, unless a recorded step
// tells.
func closedField(in checks.Input) checks.Field {
	f := checks.Field{Key: "closed_at", Label: "closed in parallel at", Sort: checks.Instant, Need: true, Example: "14:05"}
	if at, ok := in.Taken(closedBy(in)); ok {
		f.Need, f.Known = false, true
		f.Hint = "known from the step " + closedBy(in).ID + ", recorded at " + checks.Clock(at)
	}
	return f
}

// opened is when the coupler was opened, as recorded. An opening from before the
// closing belongs to an earlier time in parallel.
func opened(in checks.Input) (time.Time, bool) {
	at, ok := in.Taken(openedBy(in))
	closed, known := in.Taken(closedBy(in))
	return at, ok && (!known || at.After(closed))
}

// parallel is the time in parallel: from the recorded step that closed, or what was
// typed, to the recorded step that opened the coupler, or the reading of the currents.
// ok is false while either end is not known.
func parallel(in checks.Input) (from, to time.Time, ok bool) {
	from, known := in.Taken(closedBy(in))
	if !known {
		from = in.Answers["closed_at"].Time()
	}
	to = in.Answers["now_at"].Time()
	if opened, ok := opened(in); ok {
		to = opened
	}
	return from, to, !from.IsZero() && !to.IsZero()
}

// doubtParallel names times that recorded steps contradict.
func doubtParallel(in checks.Input) []checks.Doubt {
	var out []checks.Doubt
	typed, read := in.Answers["closed_at"].Time(), in.Answers["now_at"].Time()
	if at, ok := in.Taken(closedBy(in)); ok && !typed.IsZero() && typed.Sub(at).Abs() > stepSlack {
		out = append(out, checks.Doubt{Fields: []string{"closed_at"}, Said: checks.Say("closed-apart-from-step", checks.At("closed", typed), checks.Word("step", closedBy(in).ID), checks.At("recorded", at))})
	}
	if at, ok := opened(in); ok && !read.IsZero() && read.Sub(at) > stepSlack {
		out = append(out, checks.Doubt{Fields: []string{"now_at"}, Said: checks.Say("read-after-opening", checks.At("read", read), checks.Word("step", openedBy(in).ID), checks.At("recorded", at))})
	}
	return out
}

// shareTime holds the time in parallel. A reading up to a minute before a recorded
// closing is one typed to the minute.
func shareTime(w *checks.Work, g *loadShare) {
	from, to, ok := parallel(w.Input)
	if !ok {
		return
	}
	took := to.Sub(from)
	if _, recorded := w.Taken(closedBy(w.Input)); recorded && took < 0 && took >= -stepSlack {
		took = 0
	}
	if took < 0 {
		w.Say(checks.Fail, "now_at", "read-before-parallel", checks.Num("early", -took.Seconds(), "s"))
		return
	}
	name := "time in parallel so far"
	if _, opened := opened(w.Input); opened {
		name = "whole time in parallel"
	}
	e := calc.Datum(name, took.Seconds(), "s")
	if g.TimeLimit == nil {
		w.Show("in_parallel", name, "s", e)
		return
	}
	w.HoldField("now_at", "in_parallel", name, "s", e, checks.AtMost(float64(*g.TimeLimit), "plan"))
}

// inParallel is since when the incomers stand in parallel as the recorded steps tell it,
// until the step that opens the coupler, and how long they may.
func inParallel(in checks.Input, g *loadShare) (since time.Time, most time.Duration, ok bool) {
	since, ok = in.Taken(closedBy(in))
	if _, opened := in.Taken(openedBy(in)); opened {
		return since, 0, false
	}
	if g.TimeLimit != nil {
		most = time.Duration(float64(*g.TimeLimit) * float64(time.Second))
	}
	return since, most, ok
}
