package recall

import (
	"cmp"
	"maps"
	"reflect"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
)

// Question is what is asked of a job: what rests on readings of an instrument, taken from a
// time on and before another, that errs by one of the errors. Without an error nothing is
// known of its readings.
type Question struct {
	Serial   string
	From, To time.Time // zero where there is no such end
	Errors   []Error
}

// Touched is an attempt that read with the instrument, or rests on one that did.
type Touched struct {
	State     *report.State
	Attempt   *report.Attempt
	Direct    bool // it read with the instrument itself
	Newest    bool // it is the one that counts in its job
	Then, Now checks.Verdict
	Why       checks.Said // of now
	Readings  []Reading
	Values    []Changed
	Follow    []checks.Said // what hung on the verdict of then, where now is another
}

// Reading is a reading with the error taken out of it.
type Reading struct {
	Field       checks.Field
	Typed       string
	Was, Is, By float64 // in the base unit; By is what Is is uncertain by, beside the instrument's accuracy
	Known       bool    // an error is stated for it
}

// Changed is a value that was judged, then and now.
type Changed struct{ Was, Is checks.Derived }

// run is one size the error may have had.
type run struct {
	part float64 // of the correction and its uncertainty, 0 to 1
	side float64 // of what is known as a bound, −1 or 1; 0 where it is taken for a worse accuracy
}

// runs are the sizes that an error is tried with; the first is the whole correction. When it
// arose is not known, so parts of it are tried too, none of it being the verdict of then; and
// a bound is tried wholly to either side, beside being taken for a worse accuracy.
func (q Question) runs() []run {
	if len(q.Errors) == 0 {
		return []run{{}}
	}
	out := []run{{part: 1}}
	if slices.ContainsFunc(q.Errors, func(e Error) bool { return !e.Within }) {
		out = append(out, run{part: 0.75}, run{part: 0.5}, run{part: 0.25})
	}
	if slices.ContainsFunc(q.Errors, func(e Error) bool { return e.Within }) {
		out = append(out, run{part: 1, side: 1}, run{part: 1, side: -1})
	}
	return out
}

// recaller judges the attempts of one job again.
type recaller struct {
	Question
	job   *report.Job
	tries []run
	again map[*report.Attempt]*retaken
	pasts map[key][]*retaken // the same by what later checks know of them
	wide  map[planRun]*plan.Plan
}

type planRun struct {
	plan *plan.Plan
	run
}

// key finds what a check had come to: what was judged first at a time.
type key struct {
	check string
	at    int64
}

// retaken is an attempt judged again, a finding a run.
type retaken struct {
	was      checks.Answers
	direct   bool
	unknown  bool
	answers  []checks.Answers
	findings []checks.Finding
}

// Judge finds the attempts of a job that the question touches, in the order they were judged
// in, and judges each again.
func Judge(j *report.Job, q Question) []Touched {
	r := &recaller{Question: q, job: j, tries: q.runs(), again: map[*report.Attempt]*retaken{}, pasts: map[key][]*retaken{}, wide: map[planRun]*plan.Plan{}}
	var out []Touched
	for _, s := range slices.Concat(j.States, j.TakenOut) {
		for _, a := range s.Attempts {
			if a.Judged {
				out = append(out, Touched{State: s, Attempt: a, Newest: a == s.LastJudged() && s.Out == 0, Then: a.Finding.Verdict})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Touched) int { return cmp.Compare(a.Attempt.JudgedFirst, b.Attempt.JudgedFirst) })
	out = slices.DeleteFunc(out, func(t Touched) bool { return !r.touches(t) })
	for i := range out {
		r.tell(&out[i])
	}
	return out
}

// past finds the attempt judged again that a later check knows of; nil where it is not touched.
// Two may have been judged at one moment, where a clock stood: then the answers tell.
func (r *recaller) past(check string, past checks.Past) *retaken {
	all := r.pasts[key{check, past.At.UnixNano()}]
	for _, is := range all {
		if reflect.DeepEqual(is.was, past.Answers) {
			return is
		}
	}
	if len(all) == 0 {
		return nil
	}
	return all[len(all)-1]
}

// within tells whether an attempt was read, in part at least, in the time asked about.
func (q Question) within(a *report.Attempt) bool {
	return (q.From.IsZero() || !a.At.Before(q.From)) && (q.To.IsZero() || a.First.Before(q.To))
}

// mine tells whether a field names the instrument.
func (r *recaller) mine(answers checks.Answers, meter string) bool {
	is, ok := answers[meter]
	return ok && is.Word != "" && r.job.EverSerial(is.Word, r.Serial)
}

// touches judges an attempt again, and keeps it where the instrument touches it: it read with
// it, it has values of what did, or it comes out otherwise because of it.
func (r *recaller) touches(t Touched) bool {
	in := r.job.InputOf(t.State, t.Attempt)
	form := in.Form()
	direct := r.within(t.Attempt) && slices.ContainsFunc(form, func(f checks.Field) bool { return f.Sort == checks.MeterUsed && r.mine(in.Answers, f.Key) })
	behind, unknown := false, false
	for id, past := range earlier(in) {
		if p := r.past(id, past); p != nil {
			behind = true
			unknown = unknown || p.unknown && slices.Contains(t.Attempt.Finding.Uses(), id)
		}
	}
	if !direct && !behind {
		return false
	}
	is := &retaken{was: in.Answers.There(), direct: direct, unknown: unknown || direct && !r.unknown(in, form).None()}
	for k, run := range r.tries {
		answers, before := in.Answers, in.Before
		if direct {
			answers = r.corrected(form, in.Answers, run)
		}
		if behind {
			before = r.before(in, k)
		}
		next := in
		next.Answers, next.Before, next.Plan = answers, before, r.planOf(in.Plan, run)
		found := checks.Judge(next)
		if is.unknown && found.Verdict == checks.Pass {
			found.Verdict = checks.Inconclusive
		}
		is.answers, is.findings = append(is.answers, answers.There()), append(is.findings, found)
	}
	if !direct && !is.unknown && !slices.ContainsFunc(is.findings, func(f checks.Finding) bool { return differs(t.Attempt.Finding, f) }) && !r.rests(t) {
		return false
	}
	at := key{t.State.Check.ID, t.Attempt.At.UnixNano()}
	r.again[t.Attempt], r.pasts[at] = is, append(r.pasts[at], is)
	return true
}

// rests tells whether the values of an attempt rest on readings of one that is touched.
func (r *recaller) rests(t Touched) bool {
	in := r.job.InputOf(t.State, t.Attempt)
	return slices.ContainsFunc(t.Attempt.Finding.Uses(), func(id string) bool { return r.past(id, in.Came(id)) != nil })
}

func differs(a, b checks.Finding) bool {
	return a.Verdict != b.Verdict || slices.ContainsFunc(a.Derived, func(d checks.Derived) bool {
		is, ok := b.Value(d.Key)
		return !ok || !checks.SameNumber(d.Value, is.Value)
	})
}

// earlier is what the checks above came to, by id.
func earlier(in checks.Input) checks.Pasts {
	if in.Before == nil {
		return checks.Pasts{}
	}
	return maps.Collect(in.Before.All())
}

// before is what the checks above came to, those judged again as a run has them.
func (r *recaller) before(in checks.Input, k int) checks.Earlier {
	out := earlier(in)
	for id, past := range maps.Clone(out) {
		is := r.past(id, past)
		if is == nil {
			continue
		}
		if reflect.DeepEqual(is.was, past.Answers) {
			out[id] = checks.Past{Answers: is.answers[k], Finding: is.findings[k], At: past.At}
			continue
		}
		// Its answers were put right later: this attempt was judged by what they were.
		c := in.Plan.Check(id)
		if c == nil {
			continue
		}
		was := checks.Input{Plan: r.planOf(in.Plan, r.tries[k]), Check: c, Answers: past.Answers, Before: in.Before, At: past.At, Steps: in.Steps}
		if is.direct {
			was.Answers = r.corrected(was.Form(), past.Answers, r.tries[k])
		}
		out[id] = checks.Past{Answers: was.Answers, Finding: checks.Judge(was), At: past.At}
	}
	return out
}

// corrected are answers with the error taken out of each reading of the instrument.
func (r *recaller) corrected(form []checks.Field, answers checks.Answers, by run) checks.Answers {
	out := maps.Clone(answers)
	for _, f := range form {
		a, ok := answers[f.Key]
		if !ok || f.Sort != checks.Measured || a.NotThere != "" || !r.mine(answers, f.Meter) {
			continue
		}
		of := quantity.QuantityOf(f.Unit)
		off, _, _ := r.found(of, a.Value)
		a.Value -= float64(by.part*off) + float64(by.side*r.bounded(of, a.Value))
		out[f.Key] = a
	}
	return out
}

// unknown is why an attempt that read with the instrument cannot be judged again: no error is
// stated, nothing was read as a number, or no error is stated there.
func (r *recaller) unknown(in checks.Input, form []checks.Field) checks.Said {
	if len(r.Errors) == 0 {
		return checks.Say("error-unknown")
	}
	for _, m := range form {
		if m.Sort != checks.MeterUsed || !r.mine(in.Answers, m.Key) {
			continue
		}
		read := false
		for _, f := range form {
			a, ok := in.Answers[f.Key]
			if f.Meter != m.Key || !ok || f.Sort != checks.Measured || a.NotThere != "" {
				continue
			}
			read = true
			of := quantity.QuantityOf(f.Unit)
			off, _, known := r.found(of, a.Value)
			meter := in.Plan.Meter(in.Answers[m.Key].Word)
			switch {
			case !known:
				return checks.Say("not-covered", checks.Label("field", f), checks.Word("read", a.Typed))
			case leaves(meter, of, a.Value, a.Value-off):
				return checks.Say("leaves-range", checks.Label("field", f), checks.Word("read", a.Typed))
			}
		}
		if !read {
			return checks.Say("no-number", checks.Label("field", m))
		}
	}
	return checks.Said{}
}

// leaves tells whether a reading lay in a range of an instrument, and corrected lies in none.
func leaves(m *plan.Meter, of string, was, is float64) bool {
	if m == nil || len(m.Ranges) == 0 {
		return false
	}
	_, in := m.RangeFor(of, was)
	_, still := m.RangeFor(of, is)
	return in && !still
}

// planOf is a plan in which the instrument is as uncertain as the error leaves it. A plan that
// judges simply knows no uncertainty but that of the error: there it alone is the guard band.
func (r *recaller) planOf(p *plan.Plan, by run) *plan.Plan {
	at := planRun{p, by}
	if is, ok := r.wide[at]; ok {
		return is
	}
	is, widened := *p, false
	is.Meters = slices.Clone(p.Meters)
	for i := range is.Meters {
		m := &is.Meters[i]
		m.Ranges = slices.Clone(m.Ranges)
		if p.Rule == checks.RuleSimple {
			for k := range m.Ranges {
				m.Ranges[k].Reading, m.Ranges[k].Digits, m.Ranges[k].OfRange, m.Ranges[k].Resolution = nil, nil, nil, nil
			}
		}
		if !r.job.EverSerial(m.ID, r.Serial) {
			continue
		}
		if len(m.Ranges) == 0 {
			m.Sort, m.Ranges = m.SortOf(), everything()
		}
		for k := range m.Ranges {
			var more bool
			m.Ranges[k], more = r.widened(m.Ranges[k], by)
			widened = widened || more
		}
	}
	r.wide[at] = p
	if widened {
		is.Rule = checks.RuleGuarded
		r.wide[at] = &is
	}
	return r.wide[at]
}

// everything are ranges for whatever an instrument may read of which the plan gives none.
func everything() (out []plan.Range) {
	for _, of := range slices.Sorted(maps.Values(quantity.Measured)) {
		out = append(out, plan.Range{To: quantity.Amount{Value: 1e12, Of: of, Unit: quantity.BaseUnit(of)}})
	}
	return out
}
