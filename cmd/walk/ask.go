package walk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/cmd/session"
)

// ask asks the open fields of a row. What helps to answer is said before it, once in a
// check: hints, where a target comes from. What should be read stands beside what is
// asked, on the same line where there is room.
func (t *taking) ask(ctx context.Context, left []checks.Field, stands bool) (string, error) {
	w := t.w
	if ahead := w.ahead; ahead != "" {
		w.ahead = ""
		return ahead, nil
	}
	prompt, target := rowPrompt(left, session.Targets(t.in, left), stands)
	hint := left[0].Hint
	if w.hinted[hint] {
		hint = ""
	}
	w.hinted[left[0].Hint] = true
	room := 12 // for what is typed
	if optional(left) {
		room = 4
	}
	lines := func(text string) int { return strings.Count(session.Wrapped(text, "  ", w.Env.Width()), "\n") }
	fits := func(more string) bool { // without a line more
		return lines(prompt+" "+more+strings.Repeat("_", room)) == lines(prompt)
	}
	switch {
	case hint != "" && target == "" && fits("("+hint+")"):
		prompt += " (" + hint + ")"
		hint = ""
	case target != "" && fits(target):
		prompt, target = prompt+" "+target, ""
	}
	t.sayLead(t.source(left), t.likewise(len(left) == len(t.rows[t.at])), hint, target)
	return w.in.Prompt(ctx, "  "+prompt+": ")
}

// alike is how many rows below the one asked a line goes on into: rows of readings of the
// same shape and with the same target, each of them filled. A joint like the one before it
// need not be asked for by name.
func (t *taking) alike(typed string) int {
	fields := slices.Clone(t.rows[t.at])
	for more := 1; t.at+more < len(t.rows) && t.sameShape(t.rows[t.at], t.rows[t.at+more]); more++ {
		fields = append(fields, t.rows[t.at+more]...)
		if got, n, err := t.w.parse(t.in, fields, typed); err == nil && n == len(fields) && len(got) == n {
			return more
		}
	}
	return 0
}

// sameShape tells whether two rows with a reading ask the same of two things.
func (t *taking) sameShape(a, b []checks.Field) bool {
	nameA, _ := session.SharedStart(a)
	nameB, _ := session.SharedStart(b)
	if len(a) != len(b) || nameA == "" || nameB == "" || nameA == nameB || t.check.Kind.Proves {
		return false
	}
	measured := false
	for i, f := range a {
		g := b[i]
		same := f.Sort == g.Sort && f.Unit == g.Unit && f.Meter == g.Meter && slices.Equal(f.Options, g.Options) && f.Wanted == g.Wanted && f.Need && g.Need && f.Hint == g.Hint
		if f.Expect != nil && g.Expect != nil {
			same = same && *f.Expect == *g.Expect
			measured = true
		}
		if _, answered := t.in.Answers[g.Key]; !same || answered || (f.Expect == nil) != (g.Expect == nil) || f.Side != g.Side {
			return false
		}
	}
	return measured
}

// likewise names, once in a check, the rows whose readings may follow on the same line.
func (t *taking) likewise(whole bool) string {
	var names []string
	for more := 1; whole && t.at+more < len(t.rows) && t.sameShape(t.rows[t.at], t.rows[t.at+more]); more++ {
		name, _ := session.SharedStart(t.rows[t.at+more])
		names = append(names, strings.Trim(name, ":, "))
	}
	if key := t.check.ID + " alike"; len(names) > 0 && !t.w.hinted[key] {
		t.w.hinted[key] = true
		if n := len(names); n > 2 {
			names = []string{fmt.Sprintf("%s to %s (%d)", names[0], names[n-1], n)}
		}
		return "you may type on the same line: " + strings.Join(names, ", ")
	}
	return ""
}

// source is where the targets of a row come from, as far as it was not said of this check
// before; that of the first where they differ.
func (t *taking) source(left []checks.Field) string {
	var out []string
	for _, f := range left {
		if f.Expect == nil || t.w.hinted[t.check.ID+f.Expect.Source] {
			continue
		}
		t.w.hinted[t.check.ID+f.Expect.Source] = true
		text, _, _ := strings.Cut(f.Expect.Source, ";")
		if text != "" && text != "common practice" && !strings.HasPrefix(text, "plan") { // those say nothing on site
			out = append(out, text)
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "target from " + out[0]
}

// otherDay asks about a time of day that is yesterday's or lies ahead, before it is
// taken. It tells whether the line is asked again.
func (t *taking) otherDay(ctx context.Context, left []checks.Field, got checks.Answers) (again bool, err error) {
	for _, f := range left {
		a, ok := got[f.Key]
		if !ok || f.Sort != checks.Instant {
			continue
		}
		text := t.w.unlikely(a.Typed, a.Time())
		if text == "" {
			continue
		}
		typed, err := t.w.in.Prompt(ctx, fmt.Sprintf("  %s; Enter takes it, or type the line again: ", text))
		if err != nil {
			return false, err
		}
		if typed != "" {
			t.w.ahead = typed
			return true, nil
		}
	}
	return false, nil
}

// unlikely says what a bare time of day means when that is yesterday or still to come,
// "" when it is neither.
func (w *walker) unlikely(typed string, at time.Time) string {
	now := w.Env.Now()
	switch {
	case len(typed) > len("15:04:05"), strings.EqualFold(typed, "now"):
		return ""
	case at.After(now.Add(time.Minute)):
		return fmt.Sprintf("%s lies ahead: it is %s now", typed, now.Format("15:04"))
	case !sameDay(at, now):
		return fmt.Sprintf("%s is taken as that of %s, not today", typed, at.In(now.Location()).Format(time.DateOnly))
	}
	return ""
}

// otherwise is what of the answers was understood otherwise than it stands there to read,
// and all of them where they are a part of a row, or of several.
func (w *walker) otherwise(form []checks.Field, got checks.Answers, part bool) string {
	var rows []string
	several := len(got) > 1 && len(checks.Rows(slices.DeleteFunc(slices.Clone(form), func(f checks.Field) bool { _, ok := got[f.Key]; return !ok }))) > 1
	for _, row := range checks.Rows(form) {
		var shown []checks.Field
		for _, f := range row {
			if a, ok := got[f.Key]; ok && (part || !session.Plainly(f, a)) {
				shown = append(shown, f)
			}
		}
		if len(shown) == 0 {
			continue
		}
		shared, labels := session.SharedStart(shown)
		var values []string
		for i, f := range shown {
			f.Label = labels[i]
			text := session.AnswerText(f, got[f.Key], w.Env.Now())
			if several && strings.HasSuffix(shared, ": ") { // of many joints the values alone, in order
				text = strings.Trim(strings.TrimPrefix(text, f.Label), ": ")
			}
			values = append(values, text)
		}
		rows = append(rows, shared+strings.Join(values, ", "))
	}
	return strings.Join(rows, "; ")
}
