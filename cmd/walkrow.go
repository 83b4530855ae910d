package cmd

import (
	"context"
	"fmt"
	"strings"

	"handback/checks"
)

// rowPrompt asks the open fields of a row.
func rowPrompt(left []checks.Field, by string) string {
	labels := make([]string, len(left))
	for i, f := range left {
		labels[i] = f.Label
	}
	f := left[0]
	var extra []string
	switch {
	case f.Unit != "":
		extra = append(extra, f.Unit)
	case len(f.Options) > 0:
		extra = append(extra, strings.Join(f.Options, "/"))
	case f.Sort == checks.Instant:
		extra = append(extra, "now or 14:05")
	}
	if d := defaultOf(f, by); d != "" {
		extra = append(extra, "Enter for "+d)
	} else if optional(left) {
		extra = append(extra, "Enter to leave out")
	}
	if f.Hint != "" {
		extra = append(extra, f.Hint)
	}
	text := "  " + strings.Join(labels, ", ")
	if len(extra) > 0 {
		text += " [" + strings.Join(extra, "; ") + "]"
	}
	return text + ": "
}

// defaultOf is what Enter stands for: the planned instrument, or the person at
// the keyboard. Never a reading.
func defaultOf(f checks.Field, by string) string {
	switch {
	case f.Sort == checks.MeterUsed:
		return f.Default
	case f.Sort == checks.Initials && f.Key == "who":
		return by
	}
	return ""
}

// parse reads a typed line as the first n of the open fields.
func (w *walker) parse(in checks.Input, left []checks.Field, typed string) (checks.Answers, int, error) {
	values := []string{typed}
	if len(left) > 1 {
		values = splitRow(left, typed)
	}
	if typed == "" {
		values = []string{defaultOf(left[0], w.by)}
		if values[0] == "" {
			return nil, 0, fmt.Errorf("nothing was typed; %s", left[0].Accepts())
		}
	}
	if len(values) > len(left) {
		return nil, 0, fmt.Errorf("%d values were typed, %d are asked: %s", len(values), len(left), typed)
	}
	got := checks.Answers{}
	for i, v := range values {
		a, err := checks.ParseAnswer(left[i], in.Plan, v, w.env.Now())
		if err != nil {
			return nil, 0, err
		}
		got[left[i].Key] = a
	}
	return got, len(values), nil
}

// splitRow cuts a line into values: numbers with their units, or options and
// words parted by white space, comma or semicolon.
func splitRow(left []checks.Field, typed string) []string {
	if left[0].Sort == checks.Measured || left[0].Sort == checks.Count {
		return splitValues(typed)
	}
	if strings.ContainsAny(typed, ",;") {
		var out []string
		for _, p := range strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ';' }) {
			if p = strings.TrimSpace(p); p != "" {
				out = append(out, p)
			}
		}
		return out
	}
	if _, err := checks.ParseAnswer(left[0], nil, typed, zeroTime); err == nil && left[0].Sort == checks.Choice {
		return []string{typed} // an option of several words
	}
	return strings.Fields(typed)
}

// againWord is what doubted answers when the line is to be typed again.
const againWord = "\x00again"

// doubted asks about readings that cannot be right together with got. It gives
// the reason they are kept for, "" when there is no new doubt.
func (w *walker) doubted(ctx context.Context, in checks.Input, got checks.Answers) (string, error) {
	in.Answers = merged(in.Answers, got)
	doubts := openDoubts(in)
	if len(doubts) == 0 {
		return "", nil
	}
	for _, d := range doubts {
		w.say("  cannot be right: %s\n", d.Text)
	}
	for {
		typed, err := w.in.prompt(ctx, "  Enter to type it again, keep WHY to keep it: ")
		if err != nil {
			return "", err
		}
		if typed == "" {
			return againWord, nil
		}
		if why := strings.TrimSpace(strings.TrimPrefix(typed, "keep ")); strings.HasPrefix(typed, "keep ") && why != "" {
			return why, nil
		}
		done, err := w.command(ctx, in.Check.ID, typed)
		if err != nil {
			return "", err
		}
		if !done {
			w.say("  %q: Enter, keep WHY, note WORDS or quit\n", typed)
		}
	}
}

// openDoubts are the doubts in which no reading was kept on purpose.
func openDoubts(in checks.Input) []checks.Doubt {
	var out []checks.Doubt
	for _, d := range in.Doubts() {
		kept := false
		for _, k := range d.Fields {
			kept = kept || in.Answers[k].Kept != ""
		}
		if !kept {
			out = append(out, d)
		}
	}
	return out
}

func merged(a, b checks.Answers) checks.Answers {
	out := checks.Answers{}
	for k, v := range a {
		out[k] = v
	}
	for k, v := range b {
		out[k] = v
	}
	return out
}

// wrapped breaks text into lines of at most width, each after indent.
func wrapped(text, indent string, width int) string {
	var b strings.Builder
	line := indent
	for _, word := range strings.Fields(text) {
		if len([]rune(line))+1+len([]rune(word)) > width && line != indent {
			b.WriteString(strings.TrimRight(line, " ") + "\n")
			line = indent
		}
		if line != indent {
			line += " "
		}
		line += word
	}
	b.WriteString(line)
	return b.String()
}
