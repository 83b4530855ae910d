package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/chain"
	"handback/templates"
)

// Reason is one point of why, as it is recorded: facts, and the words in which they
// were shown. Words are never compared.
type Reason struct {
	checks.Said
	Verdict checks.Verdict `json:"verdict"`
	Fields  []string       `json:"fields,omitempty"`
	Words   string         `json:"words"`
}

// Stopped is a stop, as it is recorded.
type Stopped struct {
	checks.Said
	Words string `json:"words"`
}

// Words is what a finding of a kind says, in the words of the catalogue.
func Words(kind *plan.Traits, s checks.Said) string { return s.Words(kind.Name, templates.Said) }

// GroupWords is what is said of many jobs, in the words of a folder of templates; what a
// kind says within it is in that kind's.
func GroupWords(folder string, s checks.Said) string {
	return s.Words("", func(kind, code string, values map[string]any) (string, error) {
		if kind != "" {
			return templates.Said(kind, code, values)
		}
		return templates.Group(folder, code, values)
	})
}

// CourseHow is what the curve of a course is, or why there is none.
func CourseHow(c *checks.Course) string { return c.How.Words("", templates.Said) }

// NewJudged is the entry data of a finding of a kind.
func NewJudged(kind *plan.Traits, attempt int, f checks.Finding, because string) Judged {
	return judgedAs(Judged{}, kind, attempt, f, because)
}

// judgedAs is NewJudged in the words in which the same was told before; what was not
// is put into words.
func judgedAs(was Judged, kind *plan.Traits, attempt int, f checks.Finding, because string) Judged {
	j := Judged{Attempt: attempt, Verdict: f.Verdict, Reasons: make([]Reason, 0, len(f.Reasons)), Values: make(map[string]float64, len(f.Derived)), Because: because}
	switch {
	case f.Stop.None():
	case was.Stop != nil && f.Stop.Same(was.Stop.Said):
		j.Stop = was.Stop
	default:
		j.Stop = &Stopped{f.Stop, Words(kind, f.Stop)}
	}
	for i, r := range f.Reasons {
		told := Reason{Said: r.Said, Verdict: r.Verdict, Fields: r.Fields}
		if i < len(was.Reasons) && told.same(was.Reasons[i]) {
			told.Words = was.Reasons[i].Words
		} else {
			told.Words = Words(kind, r.Said)
		}
		j.Reasons = append(j.Reasons, told)
	}
	for _, d := range f.Derived {
		if quantity.Finite(d.Value) {
			j.Values[d.Key] = d.Value
		}
	}
	return j
}

// keptAs is a judgement with the reasons and values of another where they are the same to
// the last sign: a job keeps what was recorded and what was judged again, which nearly
// always are, and keeps them once.
func (j Judged) keptAs(is Judged) Judged {
	if slices.EqualFunc(j.Reasons, is.Reasons, func(a, b Reason) bool {
		return a.Verdict == b.Verdict && a.Words == b.Words && slices.Equal(a.Fields, b.Fields) && a.Said.Alike(b.Said)
	}) {
		j.Reasons = is.Reasons
	}
	if maps.EqualFunc(j.Values, is.Values, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) }) {
		j.Values = is.Values
	}
	return j
}

// Stopping are the words of the stop, "" when there is none.
func (j Judged) Stopping() string {
	if j.Stop == nil {
		return ""
	}
	return j.Stop.Words
}

// Why are the words that tell the verdict: the stop, or the first reason as bad as it.
func (j Judged) Why() string {
	if j.Stop != nil {
		return j.Stop.Words
	}
	for _, r := range j.Reasons {
		if r.Verdict == j.Verdict {
			return r.Words
		}
	}
	return ""
}

// differs says how two judgements of the same answers differ, "" when they agree
// in verdict, stop, reasons and values to 1e-9. Words are not looked at.
func differs(was, is Judged) string {
	if was.Verdict != is.Verdict {
		return fmt.Sprintf("recorded as %s, judged again it comes to %s", was.Verdict, is.Verdict)
	}
	if (was.Stop == nil) != (is.Stop == nil) || was.Stop != nil && !was.Stop.Same(is.Stop.Said) {
		return fmt.Sprintf("recorded stop %q, judged again %q", was.Stopping(), is.Stopping())
	}
	if len(was.Reasons) != len(is.Reasons) {
		return fmt.Sprintf("recorded with %d reasons, judged again with %d", len(was.Reasons), len(is.Reasons))
	}
	for i, r := range is.Reasons {
		if w := was.Reasons[i]; !r.same(w) {
			return fmt.Sprintf("recorded reason %d as %s %s (%s), judged again it is %s %s (%s)", i+1, w.Verdict, w.Code, w.Words, r.Verdict, r.Code, r.Words)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(was.Values)) {
		x, ok := is.Values[k]
		if w := was.Values[k]; !ok || !checks.SameNumber(x, w) {
			return fmt.Sprintf("recorded %s as %v, worked out again it is %v", k, w, x)
		}
	}
	return ""
}

// SameJudgement tells whether two judgements agree in verdict, stop and values.
func SameJudgement(a, b Judged) bool { return differs(a, b) == "" }

// Fold reads a job's entries, oldest first, into its state. Every judgement is
// made anew with what was known at its entry; one that comes out otherwise than
// recorded is named in Differs. The error names the entry that cannot be read.
func Fold(plan *plan.Plan, entries []chain.Entry) (*Job, error) {
	return newJob(plan).begin(entries)
}

// begin takes up all entries of a job. They are kept as they are given.
func (j *Job) begin(entries []chain.Entry) (*Job, error) {
	if len(entries) == 0 {
		return nil, fmt.Errorf("job has no entries")
	}
	j.back, j.data = make([]time.Duration, 0, len(entries)), make([]any, 0, len(entries))
	for i, e := range entries {
		if err := j.take(e, entries[:i+1:i+1]); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// Recorded is Fold for who looks: findings are taken as they were recorded, and the entries
// must be of a sound chain. What the state of the plant hangs on, a proof of dead or in phase,
// is judged all the same with what it rests on, and so is what shows more than is recorded: a
// change from the baseline. So is every finding of a job with an amended plan, an instrument
// found bad or a continuation joined, where more than the verdicts decides what counts.
func Recorded(p *plan.Plan, entries []chain.Entry) (*Job, error) {
	j := newJob(p)
	j.recorded = !slices.ContainsFunc(entries, func(e chain.Entry) bool {
		return slices.Contains([]string{EntryAmend, EntryBad, EntryAdopt, EntryJoin}, e.Kind)
	})
	if j, err := j.begin(entries); err != nil || !j.wrong {
		return j, err
	}
	return Fold(p, entries)
}

// believed is a judgement that was taken as it was recorded, with what it was judged from.
type believed struct {
	in    checks.Input
	was   Judged
	borne bool // judged since, and found the same
}

// bears judges a believed finding, once.
func (b *believed) bears() bool {
	b.borne = b.borne || foundSame(b.was, checks.Judge(b.in))
	return b.borne
}

// resting are earlier checks as a finding asks for them that is judged in a job taken as
// recorded: what it asks for and was believed is judged as well.
type resting struct {
	checks.Earlier
	job *Job
}

func (r resting) Of(check string) checks.Past {
	past := r.Earlier.Of(check)
	if !past.Taken() {
		return past
	}
	for i := range r.job.believed {
		if b := &r.job.believed[i]; b.in.Check.ID == check && !b.borne {
			b.in.Before = resting{b.in.Before, r.job}
			r.job.wrong = r.job.wrong || !b.bears()
		}
	}
	return past
}

// believes tells whether a finding of a check is taken as it was recorded.
func (j *Job) believes(c *plan.Check) bool {
	_, finds := c.Finds()
	return j.recorded && !finds && !c.Kind.Proves && len(j.Plan.Baselines(c.ID)) == 0
}

// foundAs is the finding that a judgement recorded, as far as it was.
func foundAs(was Judged, in checks.Input) checks.Finding {
	f := checks.Finding{Verdict: was.Verdict}
	f.Until, f.Soon = in.Fresh(was.Verdict)
	if was.Stop != nil {
		f.Stop = was.Stop.Said
	}
	for _, r := range was.Reasons {
		f.Reasons = append(f.Reasons, checks.Reason{Said: r.Said, Verdict: r.Verdict, Fields: r.Fields})
	}
	for _, key := range slices.Sorted(maps.Keys(was.Values)) {
		f.Derived = append(f.Derived, checks.Derived{Key: key, Value: was.Values[key]})
	}
	return f
}

// Upto is the job as it stood at an entry.
func (j *Job) Upto(entries int) (*Job, error) {
	then, err := Fold(j.opened(), j.Entries[:entries])
	if err == nil {
		then.Files = j.Files
	}
	return then, err
}

// Replayed is the job as Fold makes it, as far as judgements go: the job itself where each
// comes out as it was recorded, and nothing that is shown would be otherwise.
func (j *Job) Replayed() (*Job, error) {
	for i := range j.believed {
		if !j.believed[i].bears() {
			again, err := j.Upto(len(j.Entries))
			if err == nil {
				again.Lines, again.known, again.Hint = j.Lines, j.known, j.Hint
			}
			return again, err
		}
	}
	return j, nil
}

// foundSame tells whether a finding is what a judgement recorded, with neither a value more
// nor one less: a later check may rest on any.
func foundSame(was Judged, is checks.Finding) bool {
	values := map[string]float64{}
	for _, d := range is.Derived {
		if quantity.Finite(d.Value) {
			values[d.Key] = d.Value
		}
	}
	stop := was.Stop == nil && is.Stop.None() || was.Stop != nil && is.Stop.Same(was.Stop.Said)
	return was.Verdict == is.Verdict && stop && maps.EqualFunc(was.Values, values, checks.SameNumber) &&
		slices.EqualFunc(was.Reasons, is.Reasons, func(w Reason, r checks.Reason) bool {
			return w.same(Reason{Said: r.Said, Verdict: r.Verdict, Fields: r.Fields})
		})
}

func (r Reason) same(s Reason) bool {
	return r.Verdict == s.Verdict && slices.Equal(r.Fields, s.Fields) && r.Said.Same(s.Said)
}

// stopsOf are the stops of a check, cured or not, with what became of them.
func stopsOf(s *State) []Stop {
	var out []Stop
	for _, a := range s.Attempts {
		if !a.Judged || a.Told.Stop == nil {
			continue
		}
		st := Stop{Check: s.Check.ID, Title: s.Check.Title, Attempt: a.Number, Text: a.Told.Stopping(), Standing: a == s.LastJudged()}
		switch {
		case st.Standing && s.IsConceded():
			st.Outcome = "stands; a concession is recorded and does not lift it"
		case st.Standing:
			st.Outcome = "stands"
		default:
			st.Outcome = "followed by attempt " + strconv.Itoa(s.LastJudged().Number) + ": " + s.Verdict().String()
		}
		out = append(out, st)
	}
	return out
}

// Finite tells whether x is a number: neither NaN nor infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
