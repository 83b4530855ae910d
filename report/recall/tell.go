package recall

import (
	"slices"

	"handback/checks"
	"handback/checks/quantity"
	"handback/records/chain"
	"handback/report"
)

// tell fills in what an attempt comes to now, and what hung on what it came to then.
func (r *recaller) tell(t *Touched) {
	in := r.job.InputOf(t.State, t.Attempt)
	form, is := in.Form(), r.again[t.Attempt]
	t.Direct = is.direct
	if is.direct {
		t.Readings = r.readings(in, form)
	}
	for _, d := range t.Attempt.Finding.Derived {
		if now, ok := is.findings[0].Value(d.Key); ok && d.Limit != nil {
			t.Values = append(t.Values, Changed{d, now})
		}
	}
	t.Now, t.Why = r.verdict(*t, in, form, is)
	t.Follow = r.follow(*t, differs(t.Attempt.Finding, is.findings[0]))
}

// verdict is what an attempt comes to now, and why.
//
//	not known   a pass is inconclusive, all else stays
//	else        what it comes to with the whole correction; a pass only where it was one,
//	            and stands with every size that the error may have had
func (r *recaller) verdict(t Touched, in checks.Input, form []checks.Field, is *retaken) (checks.Verdict, checks.Said) {
	if is.unknown {
		why := checks.Say("rests-on-unknown")
		if is.direct {
			if direct := r.unknown(in, form); !direct.None() {
				why = direct
			}
		}
		if t.Then == checks.Pass {
			return checks.Inconclusive, why
		}
		return t.Then, why
	}
	now := is.findings[0]
	because := checks.Inner("why", now.Why().Of(t.State.Check.Kind.Name))
	other := slices.IndexFunc(is.findings, func(f checks.Finding) bool { return f.Verdict != checks.Pass })
	switch {
	case now.Verdict == checks.Pass && t.Then != checks.Pass:
		return checks.Inconclusive, checks.Say("gives-none")
	case now.Verdict == checks.Pass && other < 0:
		return checks.Pass, checks.Say("stands")
	case now.Verdict == checks.Pass && r.tries[other].side != 0:
		return checks.Inconclusive, checks.Say("within-bound", checks.Inner("why", is.findings[other].Why().Of(t.State.Check.Kind.Name)))
	case now.Verdict == checks.Pass:
		return checks.Inconclusive, checks.Say("in-between", checks.Num("part", 100*r.tries[other].part, "%"),
			checks.Inner("why", is.findings[other].Why().Of(t.State.Check.Kind.Name)))
	case now.Verdict == t.Then:
		return now.Verdict, checks.Say("as-before", because)
	case t.Then == checks.Pass:
		return now.Verdict, checks.Say("lost", because)
	}
	return now.Verdict, checks.Say("otherwise", because)
}

// readings are those of the instrument, as read and with the whole correction.
func (r *recaller) readings(in checks.Input, form []checks.Field) (out []Reading) {
	for _, f := range form {
		a, ok := in.Answers[f.Key]
		if !ok || f.Sort != checks.Measured || a.NotThere != "" || !r.mine(in.Answers, f.Meter) {
			continue
		}
		off, wide, known := r.found(quantity.QuantityOf(f.Unit), a.Value)
		out = append(out, Reading{f, a.Typed, a.Value, a.Value - off, wide, known})
	}
	return out
}

// follow names an acceptance of what was found then, where that was other numbers or the
// verdict is another now; and in the latter case the hold points whose step was done on it,
// and whether the job knows that it does not count or took the check again.
func (r *recaller) follow(t Touched, others bool) (out []checks.Said) {
	j, s, a := r.job, t.State, t.Attempt
	for _, c := range s.Concessions {
		if c.Attempt == a.Number && c.Skip == 0 && c.Void == "" && (others || t.Now != t.Then) {
			out = append(out, checks.Say("accepted", checks.Word("engineer", j.PersonName(c.Engineer)), checks.Word("verdict", c.Verdict.String()), checks.Num("entry", float64(c.Seq), "")))
		}
	}
	if t.Now == t.Then {
		return out
	}
	for _, step := range j.Done {
		h := j.Plan.Hold(step.Did.Hold)
		if h != nil && slices.Contains(h.Needs, s.Check.ID) && restedOn(s, step.Seq) == a {
			out = append(out, checks.Say("hold-released", checks.Word("hold", h.ID), checks.Word("action", h.Action), checks.Word("when", report.Stamp(step.Taken))))
		}
	}
	if !t.Newest {
		out = append(out, checks.Say("taken-again"))
	}
	if why := j.Lapsed(s); t.Newest && why != "" {
		out = append(out, checks.Say("lapsed", checks.Shown("why", why)))
	}
	return out
}

// restedOn is the attempt of a check that counted when an entry was made.
func restedOn(s *report.State, seq int) (counted *report.Attempt) {
	for _, a := range s.Attempts {
		if a.Judged && a.JudgedFirst < seq {
			counted = a
		}
	}
	return counted
}

// JobFollow names what hung on the job as a whole, where a verdict that counts in it is
// another now: that it stood as ready, and who signed for it.
func JobFollow(j *report.Job, touched []Touched) (out []checks.Said) {
	if !slices.ContainsFunc(touched, func(t Touched) bool { return t.Newest && t.Now != t.Then }) {
		return nil
	}
	last := j.Head().At
	if o := j.Overall(last); o.Ready {
		code := "was-ready"
		if slices.ContainsFunc(touched, func(t Touched) bool { return t.Newest && t.Then == checks.Pass && t.Now != checks.Pass }) {
			code = "not-ready"
		}
		out = append(out, checks.Say(code, checks.Word("when", report.Stamp(last))))
	}
	for _, s := range j.Signatures {
		st := s.Statement
		if st.Verdict == chain.Ready || st.Verdict == chain.ReadyWithConcessions {
			out = append(out, checks.Say("signed", checks.Word("who", j.PersonName(st.Person)), checks.Word("role", st.Role), checks.Num("entry", float64(s.Seq), ""), checks.Word("when", report.Stamp(s.At))))
		}
	}
	return out
}
