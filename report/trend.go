package report

import (
	"math"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// TrendJobs is how many earlier jobs a trend shows at most: what a printed page has
// room for beside this one.
const TrendJobs = 5

// Trend is how the judged values of a check came out in earlier jobs on the same
// plant and in this one, oldest first. What is missing in a job is NaN.
type Trend struct {
	Jobs  []TrendJob
	Lines []TrendLine
}

// TrendJob is a job of a trend.
type TrendJob struct{ Job, Day string }

// TrendLine is one judged value over the jobs.
type TrendLine struct {
	Key        string // of the value
	Name, Unit string
	Limit      checks.Limit // of this job; an earlier one may have had another
	Values     []float64
	Verdicts   []checks.Verdict // as judged then, against the limits of then
}

// SamePlant tells whether two plans are for the same plant: made from one plan, or
// for one site.
func SamePlant(a, b *plan.Plan) bool {
	return a.ID == b.ID || a.Site != "" && a.Site == b.Site
}

// trend follows the judged values of a check back through earlier jobs. The check
// there must have the same id, kind, title and place, so that the T1 of a site is not
// compared with its T2. It is nil when no earlier job judged any of the values.
func (j *Job) trend(s *State, earlier []*Job) *Trend {
	a := s.LastJudged()
	if a == nil {
		return nil
	}
	var past []*State
	t := &Trend{}
	for _, e := range earlier {
		if was := e.State(s.Check.ID); was != nil && was.LastJudged() != nil && SamePlant(e.Plan, j.Plan) && sameCheck(was.Check, s.Check) {
			past = append(past, was)
			t.Jobs = append(t.Jobs, TrendJob{e.ID, e.OpenedAt.Format("2006-01-02")})
		}
	}
	if n := len(past); n > TrendJobs {
		past, t.Jobs = past[n-TrendJobs:], t.Jobs[n-TrendJobs:]
	}
	past = append(past, s)
	t.Jobs = append(t.Jobs, TrendJob{j.ID, j.OpenedAt.Format("2006-01-02")})
	for _, d := range a.Finding.Derived {
		if l, ok := trendLine(d, past); ok {
			t.Lines = append(t.Lines, l)
		}
	}
	if len(t.Lines) == 0 {
		return nil
	}
	return t
}

func sameCheck(a, b *plan.Check) bool {
	return a.Kind.Name == b.Kind.Name && a.Title == b.Title && a.At == b.At
}

// trendLine is a value over the states; ok is false for one that is not judged, or
// that no earlier state has.
func trendLine(d checks.Derived, states []*State) (l TrendLine, ok bool) {
	if d.Limit == nil {
		return l, false
	}
	l = TrendLine{Key: d.Key, Name: d.Name, Unit: d.Unit, Limit: *d.Limit}
	earlier := 0
	for _, s := range states {
		v, has := s.LastJudged().Finding.Value(d.Key)
		if !has || v.Unit != d.Unit || !quantity.Finite(v.Value) {
			v.Value, v.Verdict = math.NaN(), checks.Missing
		} else if s != states[len(states)-1] {
			earlier++
		}
		l.Values, l.Verdicts = append(l.Values, v.Value), append(l.Verdicts, v.Verdict)
	}
	return l, earlier > 0
}
