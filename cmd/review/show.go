package review

import (
	"fmt"
	"strings"
	"time"

	"handback/checks"
	"handback/cmd/session"
	"handback/report"
	"handback/report/review"
)

// show tells a point: what and where it is, and what it was judged by.
func (r *reviewer) show(p review.Point) {
	out, width := r.Env.Out, r.Env.Width()
	fmt.Fprintf(out, "\n%s\n", session.Wrapped(fmt.Sprintf("[%d/%d] %s", r.at+1, len(r.points), r.heading(p)), "", width))
	fmt.Fprintln(out, session.Wrapped(p.Text, "  ", width))
	if p.By != "" {
		at, _ := time.Parse(time.RFC3339, p.At) // that of an entry
		fmt.Fprintln(out, session.Wrapped(fmt.Sprintf("entry %d, by %s, %s", p.Entry, r.Job.PersonName(p.By), report.Stamp(at)), "  ", width))
	}
	r.readings(p)
	for _, v := range r.worth(p) {
		text := fmt.Sprintf("%s: %s, limit %s", v.Name, v.Value, v.Limit)
		if v.Margin != "" {
			text += ", margin " + v.Margin
		}
		fmt.Fprintln(out, session.Wrapped(text+": "+v.Verdict.String(), "  ", width))
		if n := len(v.Working); n > 0 { // the last line is the value itself; --json has all
			fmt.Fprintln(out, session.Wrapped(v.Working[n-1], "    ", width))
		}
	}
	if place := p.Check + p.Step; place != "" {
		r.PrintRemarks(place)
	}
}

func (r *reviewer) heading(p review.Point) string {
	state, title := "", ""
	if p.Open {
		state = ", OPEN"
	}
	switch s := r.Job.State(p.Check); {
	case s != nil:
		title = p.Check + " (" + session.Place(s.Check.Title, s.Check.At) + "), "
	case p.Check != "":
		title = p.Check + ", "
	case p.Step != "":
		title = "step " + p.Step + ", "
	}
	return title + p.What + state
}

// readings tells what was read of the attempt of a point.
func (r *reviewer) readings(p review.Point) {
	a := review.AttemptOf(r.Job, p)
	if a == nil {
		return
	}
	var read []string
	for _, g := range r.Job.Given(r.Job.State(p.Check), a) {
		read = append(read, session.AnswerText(g.Field, g.Answer, r.Env.Now()))
	}
	text := fmt.Sprintf("attempt %d, read by %s %s: %s", a.Number, r.Job.PersonName(a.By), report.Stamp(a.First), strings.Join(read, ", "))
	fmt.Fprintln(r.Env.Out, session.Wrapped(text, "  ", r.Env.Width()))
}

// mostValues is how many values that passed are told of a point (our choice).
const mostValues = 3

// worth are the values of a point that did not pass, or the first of those that did.
func (r *reviewer) worth(p review.Point) []review.Value {
	var out []review.Value
	for _, v := range p.Values {
		if v.Verdict != checks.Pass {
			out = append(out, v)
		}
	}
	if len(out) == 0 {
		out = p.Values[:min(len(p.Values), mostValues)]
	}
	return out
}

// list tells all points in a line each.
func (r *reviewer) list() {
	for i, p := range r.points {
		mark := " "
		if i == r.at {
			mark = ">"
		}
		r.in.Say(" %s %2d %s\n", mark, i+1, r.heading(p))
	}
}
