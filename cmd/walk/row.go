package walk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

// rowPrompt asks the open fields of a row: what they share said once, then each
// field's own part with what it takes and what it should read. target is what all of
// them should read where they take the same, which stands behind them. stands says that
// Enter leaves the row as it was answered before.
func rowPrompt(left []checks.Field, targets []string, stands bool) (prompt, target string) {
	shared, labels := session.SharedStart(left)
	alike := true
	for _, f := range left[1:] {
		alike = alike && takes(f) == takes(left[0])
	}
	var b strings.Builder
	b.WriteString(shared)
	for i, label := range labels {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(label)
		switch {
		case alike:
		case targets != nil && targets[i] != "":
			b.WriteString(bracket(targets[i]))
		default:
			b.WriteString(bracket(takes(left[i])))
		}
	}
	end := ""
	if alike {
		end = takes(left[0])
	}
	if alike && targets != nil {
		target = session.SharedTarget(left, targets)
	}
	if stands {
		end = joinWith(end, "; ", "Enter to leave it so")
	} else if d := defaultOf(left[0]); d != "" && len(left) == 1 {
		end = joinWith(end, "; ", "Enter for "+d)
	} else if optional(left) {
		end = joinWith(end, ", ", "or Enter")
	}
	return b.String() + bracket(end), target
}

// takes says in a word or two what a field takes.
func takes(f checks.Field) string {
	switch {
	case f.Unit != "":
		return session.UnitText(f)
	case slices.Equal(f.Options, checks.YesNo):
		return "y/n"
	case len(f.Options) > 0:
		return strings.Join(f.Options, "/")
	case f.Sort == checks.Instant:
		return "now or 14:05"
	}
	return ""
}

func bracket(s string) string {
	if s == "" {
		return ""
	}
	return " [" + s + "]"
}

func joinWith(a, sep, b string) string {
	if a == "" {
		return b
	}
	return a + sep + b
}

// defaultOf is what Enter stands for: now where the form offers it. Never a reading.
func defaultOf(f checks.Field) string {
	if f.Sort == checks.Instant {
		return f.Default
	}
	return ""
}

// parse reads a typed line as the first n of the open fields.
func (w *walker) parse(in checks.Input, left []checks.Field, typed string) (checks.Answers, int, error) {
	values := w.cutRow(in.Plan, left, typed)
	if typed == "" {
		values = []string{defaultOf(left[0])}
		if values[0] == "" {
			return nil, 0, fmt.Errorf("nothing was typed; %s", left[0].Accepts())
		}
	}
	if len(values) > len(left) {
		return nil, 0, fmt.Errorf("%d values were typed, %s asked: %s", len(values), areAsked(len(left)), shortened(typed))
	}
	got := checks.Answers{}
	for i, v := range values {
		if leavesOpen(left[i], v) {
			continue
		}
		a, err := checks.ParseAnswer(left[i], in.Plan, v, w.Env.Now())
		if err != nil {
			if n := len(splitValues(v)); n > 1 && len(left) == 1 && (left[i].Sort == checks.Measured || left[i].Sort == checks.Count) {
				return nil, 0, fmt.Errorf("%s: %d values were typed, one is asked: %s", left[i].Label, n, shortened(v))
			}
			cause := strings.TrimPrefix(err.Error(), left[i].Key+": ")
			return nil, 0, wrongWord{fmt.Errorf("%s: %s", left[i].Label, strings.ReplaceAll(cause, v, shortened(v))), v}
		}
		got[left[i].Key] = a
	}
	return got, len(values), nil
}

// wrongWord is why a line is refused, with the word that is.
type wrongWord struct {
	error
	word string
}

// leavesOpen tells the dash that leaves one reading of a row open.
func leavesOpen(f checks.Field, typed string) bool {
	return typed == "-" && (f.Sort == checks.Measured || f.Sort == checks.Count)
}

// shortened is a value as a refusal names it: a long paste need not come back whole.
func shortened(v string) string {
	const most = 60
	if r := []rune(v); len(r) > most {
		return string(r[:most]) + "…"
	}
	return v
}

func areAsked(n int) string {
	if n == 1 {
		return "one is"
	}
	return fmt.Sprintf("%d are", n)
}

// cutRow cuts a typed line into the values of a row's open fields. Words are
// joined as far as the fields understand them (40 N m, not lit); a semicolon
// always parts values. A line nothing fits is cut at its numbers, so that the
// error names the value that is wrong.
func (w *walker) cutRow(p *plan.Plan, left []checks.Field, typed string) []string {
	if len(left) == 1 {
		return []string{typed}
	}
	if !strings.Contains(typed, ";") {
		if before, absent := checks.CutAbsent(typed); absent != "" { // its reason may hold numbers
			return append(splitValues(before), absent)
		}
		var words []string
		for _, t := range strings.Fields(typed) {
			if t = strings.TrimSuffix(t, ","); t != "" {
				words = append(words, t)
			}
		}
		if values, ok := w.fit(p, left, words); ok {
			return values
		}
	}
	return splitValues(typed)
}

// longestValue is how many words one value may have: "26.5 lbf ft", "> 2 GΩ".
const longestValue = 4

// fit shares the words out among the fields in order: a choice written in full first, for
// "not live" is one answer and never "not" and "live"; then the fewest words.
func (w *walker) fit(p *plan.Plan, left []checks.Field, words []string) ([]string, bool) {
	if len(words) == 0 {
		return nil, true
	}
	if len(left) == 0 {
		return nil, false
	}
	most := min(longestValue, len(words))
	lengths := make([]int, 0, 2*most)
	for n := most; n > 1; n-- {
		full := strings.Join(words[:n], " ")
		if slices.ContainsFunc(left[0].Options, func(o string) bool { return strings.EqualFold(o, full) }) {
			lengths = append(lengths, n)
		}
	}
	for n := range most {
		lengths = append(lengths, n+1)
	}
	for _, n := range lengths {
		value := strings.Join(words[:n], " ")
		if _, err := checks.ParseAnswer(left[0], p, value, w.Env.Now()); err != nil && !leavesOpen(left[0], value) {
			continue
		}
		if rest, ok := w.fit(p, left[1:], words[n:]); ok {
			return append([]string{value}, rest...), true
		}
	}
	return nil, false
}

// doubted asks about readings that cannot be right together with got. It gives
// the reason they are kept for, "" when there is no new doubt; or the step that
// was chosen instead: rowAgain to type the line again, or rowBack where what is
// doubted stands in lines before it alone.
func (t *taking) doubted(ctx context.Context, got checks.Answers) (string, rowEnd, error) {
	w, in := t.w, t.in.With(got)
	in.At = w.Env.Now()
	if no := in.Refused(); len(no) > 0 {
		w.in.Refuse("  refused: %s\n", report.Words(in.Check.Kind, no[0].Said))
		if older(no, got) {
			return "", rowBack, nil
		}
		return "", rowAgain, nil
	}
	doubts := session.OpenDoubts(in)
	if len(doubts) == 0 {
		return "", rowNext, nil
	}
	for _, d := range doubts {
		w.say("  check the entry: %s\n", report.Words(in.Check.Kind, d.Said))
	}
	w.in.Refuse("") // what was typed ahead did not know of the doubt
	enter, again := "type it again", rowAgain
	if older(doubts, got) {
		enter, again = "Enter to go back to the line before", rowBack
	}
	for {
		typed, err := w.in.Prompt(ctx, "  "+enter+", or keep WHY if it is right: ")
		if err != nil {
			return "", 0, err
		}
		word, rest := cutWord(typed)
		switch {
		case typed == "":
			return "", again, nil
		case word == "keep" && rest != "" && session.Reasons(rest) != nil:
			w.in.Refuse("  %v\n", session.Reasons(rest))
			continue
		case word == "keep" && rest != "":
			return rest, rowNext, nil
		case word == "keep":
			w.in.Refuse("  keeping it needs a reason: keep WHY\n")
			continue
		}
		step, done, err := t.rowCommand(ctx, typed)
		if err != nil || step != rowNext {
			return "", step, err
		}
		if !done && again == rowAgain { // the line as it should have been
			w.ahead = typed
			return "", rowAgain, nil
		}
		if !done {
			w.in.Refuse("  %q: press Enter to go back to the line before; or keep WHY, back, skip WHY, note WORDS, quit\n", shortened(typed))
		}
	}
}

// older tells whether the doubts name answers typed before got alone.
func older(doubts []checks.Doubt, got checks.Answers) bool {
	for _, d := range doubts {
		if slices.ContainsFunc(d.Fields, func(k string) bool { _, ok := got[k]; return ok }) {
			return false
		}
	}
	return true
}

// splitValues cuts a line at its numbers: white space or ; between values, what
// follows a number kept with it, "> 2 GΩ" kept together.
//
//	249.1 248.7 249.0      249,1 V; 248,7 V; 249,0 V      0.249 kV 0.2487 kV
func splitValues(s string) []string {
	if strings.Contains(s, ";") {
		var out []string
		for _, p := range strings.Split(s, ";") {
			if p = strings.TrimSpace(p); p != "" {
				out = append(out, p)
			}
		}
		return out
	}
	var out []string
	open := false // the last value still waits for its number
	for _, tok := range strings.Fields(s) {
		tok = strings.TrimSuffix(tok, ",")
		switch {
		case tok == "":
		case open:
			out[len(out)-1] += " " + tok
			open = false
		case beginsNumber(tok) || len(out) == 0:
			out = append(out, tok)
		default:
			out[len(out)-1] += " " + tok
		}
		if tok != "" {
			open = strings.Trim(tok, "<>=≤≥") == ""
		}
	}
	return out
}

func beginsNumber(tok string) bool {
	return strings.IndexAny(tok, "0123456789+-−.,<>≤≥") == 0
}
