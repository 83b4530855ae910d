package checks

import (
	"iter"
	"maps"
	"time"

	"handback/checks/plan"
)

// Kind is one kind of check: what it asks and how it judges. Each kind stands in
// a file of its own and registers itself; nothing else names kinds.
type Kind struct {
	plan.Traits

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

	// Fresh says when a finding goes stale sooner than the life of its check has it; zero
	// when its answers do not tell. nil for kinds of which the life alone counts.
	Fresh func(in Input) time.Time

	// Due says when the next open line of a begun check falls due, for kinds that
	// are read over hours: the walk goes on with other checks until then. ok is
	// false when no line waits for a time. nil when none ever does.
	Due func(in Input) (due time.Time, ok bool)

	// Running says since when the plant stands in parallel, as recorded steps tell it,
	// and how long it may (0 where nothing limits it); nil for kinds that watch no such
	// time.
	Running func(in Input) (since time.Time, most time.Duration, ok bool)
}

// Input is what a form or a judgement may look at.
type Input struct {
	Plan    *plan.Plan
	Check   *plan.Check
	Answers Answers
	Before  Earlier   // what the checks above it in the job came to; nil for none
	At      time.Time // when the answers were given

	// Steps are the hold points whose step was recorded so far, by id, with the
	// time it was taken.
	Steps map[string]time.Time

	once map[any]any // see Once; nil outside a judgement
}

// Once works out what a judgement and its doubts both need, by all that it hangs on.
func Once[K comparable, T any](in Input, of K, work func(K) T) T {
	if in.once == nil {
		return work(of)
	}
	known, ok := in.once[of].(T)
	if !ok {
		known = work(of)
		in.once[of] = known
	}
	return known
}

// HoldAbove is the nearest hold point above the check in its plan, HoldBelow the
// nearest one below; nil when there is none.
func (in Input) HoldAbove() *plan.Hold { above, _ := in.Plan.HoldsAround(in.Check.ID); return above }

// HoldBelow is the nearest hold point below the check in its plan.
func (in Input) HoldBelow() *plan.Hold { _, below := in.Plan.HoldsAround(in.Check.ID); return below }

// Taken is when the step of a hold point was taken; ok is false while it was not,
// and for no hold point.
func (in Input) Taken(h *plan.Hold) (at time.Time, ok bool) {
	if h == nil {
		return time.Time{}, false
	}
	at, ok = in.Steps[h.ID]
	return at, ok
}

// Past is what an earlier check came to. It is read only.
type Past struct {
	Answers Answers
	Finding Finding
	At      time.Time // when it was judged
}

// Taken tells whether the check was: the zero Past is that of one which was not.
func (p Past) Taken() bool { return p.Answers != nil }

// Earlier tells what earlier checks came to, as they stood at one moment.
type Earlier interface {
	Of(check string) Past
	All() iter.Seq2[string, Past] // of those that were taken, in any order
}

// Pasts are what earlier checks came to, by id.
type Pasts map[string]Past

// Of is what a check came to.
func (p Pasts) Of(check string) Past { return p[check] }

// All goes through them.
func (p Pasts) All() iter.Seq2[string, Past] { return maps.All(p) }

// Came is what an earlier check came to.
func (in Input) Came(check string) Past {
	if in.Before == nil {
		return Past{}
	}
	return in.Before.Of(check)
}

// Doubt is a reading that cannot be right as it stands.
type Doubt struct {
	Fields []string
	Said
}

// Form is what the check asks, with what its plan and earlier answers expect.
func (in Input) Form() []Field {
	form := KindOf(in.Check).Form(in.there())
	if in.Check.Tried {
		return tried(form)
	}
	return form
}

// Doubts names the readings of in that cannot be right.
func (in Input) Doubts() []Doubt { return in.doubts(in.Form()) }

func (in Input) doubts(form []Field) []Doubt {
	var out []Doubt
	in = in.there()
	if doubts := KindOf(in.Check).Doubts; doubts != nil {
		out = doubts(in)
	}
	return append(out, NotYetDoubted(in.impossible(form), out)...)
}

// StopsAtOnce names the answers that bring a stop before all of them are there.
func (in Input) StopsAtOnce() []string {
	if atOnce := KindOf(in.Check).AtOnce; atOnce != nil {
		return atOnce(in.there())
	}
	return nil
}

// Due is when the next open line of a begun check falls due; ok is false when none
// waits for a time.
func (in Input) Due() (due time.Time, ok bool) {
	if next := KindOf(in.Check).Due; next != nil {
		return next(in.there())
	}
	return time.Time{}, false
}

// Fresh tells when a finding of these answers with a verdict goes stale; zero means never.
// soon is within hours, and worth a word where the finding is told.
func (in Input) Fresh(v Verdict) (until time.Time, soon bool) {
	in = in.there()
	if fresh := KindOf(in.Check).Fresh; fresh != nil {
		until = fresh(in)
	}
	oldest := in.oldest()
	if life := in.Check.LifeOf(); life > 0 && v == Pass {
		if at := oldest.Add(life); until.IsZero() || at.Before(until) {
			until = at
		}
	}
	return until, !until.IsZero() && until.Sub(oldest) < plan.LiveLife
}

// oldest is when the oldest reading was taken: the judgement's own moment, or that of a
// reading taken over from an earlier check.
func (in Input) oldest() time.Time {
	oldest := in.At
	for _, a := range in.Answers {
		if at := a.Read(in.At); at.Before(oldest) {
			oldest = at
		}
	}
	return oldest
}

// Running says since when the plant stands in parallel, and how long it may.
func (in Input) Running() (since time.Time, most time.Duration, ok bool) {
	if running := KindOf(in.Check).Running; running != nil {
		return running(in)
	}
	return time.Time{}, 0, false
}

// Refused names the answers of in that no reason keeps.
func (in Input) Refused() []Doubt {
	if refuse := KindOf(in.Check).Refuse; refuse != nil {
		return refuse(in.there())
	}
	return nil
}
