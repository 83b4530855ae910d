package cmd

import (
	"slices"
	"time"

	"handback/checks"
	"handback/checks/quantity"
	"handback/checks/trend"
	"handback/report"
)

// trendAnswer is how a value went over the years, or what may be asked of. What is no number
// is left out, never zero.
type trendAnswer struct {
	Points     []pointAnswer `json:"points"` // where no single value was named
	Name       string        `json:"name,omitempty"`
	What       string        `json:"what,omitempty"`
	Unit       string        `json:"unit,omitempty"`
	Values     []trendValue  `json:"values"`
	PerYear    *float64      `json:"per_year,omitempty"`
	PerYearU   *float64      `json:"per_year_u,omitempty"` // expanded, 95.45 %
	Drifts     bool          `json:"drifts"`
	Birge      *float64      `json:"birge_ratio,omitempty"`
	ByChance   *float64      `json:"by_chance,omitempty"`
	SinceFirst *changeAnswer `json:"since_first,omitempty"`
	SinceBase  *changeAnswer `json:"since_baseline,omitempty"`
	Reach      *reachAnswer  `json:"reach,omitempty"`
	Says       []saidInWords `json:"says"`
}

type trendValue struct {
	Job      string         `json:"job"`
	At       time.Time      `json:"at"`
	Value    *float64       `json:"value,omitempty"`
	Bound    string         `json:"bound,omitempty"`
	Standard *float64       `json:"standard_uncertainty,omitempty"`
	U        *float64       `json:"expanded_uncertainty,omitempty"`
	Low      *float64       `json:"low,omitempty"`
	High     *float64       `json:"high,omitempty"`
	Verdict  checks.Verdict `json:"verdict"`
	Serial   string         `json:"instrument,omitempty"`
	InLine   bool           `json:"in_line"`
}

type changeAnswer struct {
	Was    float64  `json:"was"`
	By     float64  `json:"by"`
	U      *float64 `json:"u,omitempty"`
	Clear  bool     `json:"clear"` // beyond U
	Source string   `json:"source"`
	Date   string   `json:"date"`
}

// reachAnswer is when the limit is reached; there are no days where none can be said.
type reachAnswer struct {
	Limit *float64 `json:"limit,omitempty"`
	When  string   `json:"when,omitempty"`
	From  string   `json:"from,omitempty"`
	To    string   `json:"to,omitempty"` // left out where it is farther on than the values carry
	Code  string   `json:"code"`
}

type saidInWords struct {
	Code  string `json:"code"`
	Words string `json:"words"`
}

// inWords are things said, in the words of a folder of templates.
func inWords(folder string, list []checks.Said) []saidInWords {
	out := []saidInWords{}
	for _, s := range list {
		out = append(out, saidInWords{s.Code, report.GroupWords(folder, s)})
	}
	return out
}

// finite is a number, nil for what is none.
func finite(x float64) *float64 {
	if !quantity.Finite(x) {
		return nil
	}
	return &x
}

func newTrendAnswer(name string, t *trend.Trend) trendAnswer {
	a := trendAnswer{Name: name, What: t.Name, Unit: t.Unit, PerYear: finite(t.PerYear), PerYearU: finite(t.U), Drifts: t.Drifts, Birge: finite(t.Birge), ByChance: finite(t.ByChance),
		SinceFirst: newChangeAnswer(t.SinceFirst), SinceBase: newChangeAnswer(t.SinceBase), Says: inWords("trend", t.Says)}
	for i, v := range t.Values {
		a.Values = append(a.Values, trendValue{v.Job, v.At, finite(v.X), v.Bound, finite(v.Standard), finite(v.U), finite(v.Low), finite(v.High), v.Verdict, v.Serial, slices.Contains(t.Used, i)})
	}
	r := t.Reach
	a.Reach = &reachAnswer{Limit: finite(r.Limit), Code: r.Why.Code}
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.Format(time.DateOnly)
	}
	if r.OK {
		a.Reach.When, a.Reach.From, a.Reach.To = day(r.When), day(r.From), day(r.To)
	}
	return a
}

func newChangeAnswer(c *trend.Change) *changeAnswer {
	if c == nil {
		return nil
	}
	return &changeAnswer{c.Was, c.By, finite(c.U), c.Clear, c.Source, c.Date.Format(time.DateOnly)}
}
