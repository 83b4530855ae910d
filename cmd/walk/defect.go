package walk

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"handback/cmd/session"
	"handback/report"
)

// defect raises a defect: where, up to a colon or the first word, and what. Who is to put
// it right and by when stand behind as key=value, or are asked.
func (w *walker) defect(ctx context.Context, said string) error {
	r, given := raised(said)
	if r.Where == "" || r.What == "" {
		w.in.Refuse("  a defect needs where and what: defect T2 cubicle: door switch sticks\n")
		return nil
	}
	for _, x := range []struct {
		key, question string
		into          *string
	}{{"owner", "who is to put it right", &r.Owner}, {"due", "by which day, such as 2026-06-30", &r.Due}} {
		for !given[x.key] {
			typed, err := w.in.Prompt(ctx, "  "+x.question+" [or Enter]: ")
			if err != nil {
				return err
			}
			*x.into, given[x.key] = typed, true
			if _, err := w.RaiseDraft(r); err != nil {
				w.in.Refuse("  %v\n", err)
				given[x.key] = false
			}
		}
	}
	for {
		draft, err := w.RaiseDraft(r)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			return nil
		}
		if err = w.recordAll(ctx, draft); errors.Is(err, errMoved) { // somebody else took the number
			continue
		}
		if err != nil {
			return err
		}
		d := w.Job.Defects[len(w.Job.Defects)-1]
		fmt.Fprintln(w.Env.Out, session.Wrapped(d.Name()+": "+d.Words(), "  ", w.Env.Width()))
		return nil
	}
}

// raised reads a defect as it was typed, and which keys were given.
func raised(said string) (r report.Raised, given map[string]bool) {
	given = map[string]bool{}
	into := map[string]*string{"owner": &r.Owner, "due": &r.Due, "holds": &r.Holds}
	var words []string
	last := &words
	values := map[string]*[]string{}
	for _, word := range strings.Fields(said) {
		if key, value, ok := strings.Cut(word, "="); ok && into[key] != nil {
			given[key], values[key] = true, &[]string{value}
			last = values[key]
			continue
		}
		*last = append(*last, word)
	}
	for key, value := range values {
		*into[key] = strings.Join(*value, " ")
	}
	text := strings.Join(words, " ")
	where, what, ok := strings.Cut(text, ": ")
	if !ok {
		where, what, _ = strings.Cut(text, " ")
	}
	r.Where, r.What = where, strings.TrimSpace(what)
	return r, given
}

// answer answers a question of a review: its number, and the words.
func (w *walker) answer(ctx context.Context, rest string) error {
	typed, text, _ := strings.Cut(rest, " ")
	number, err := strconv.Atoi(typed)
	if err != nil {
		w.in.Refuse("  answer takes the number of a question and words: answer 2 WORDS\n")
		return nil
	}
	for {
		draft, err := w.AnswerDraft(number, text)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			return nil
		}
		if err := w.recordAll(ctx, draft); !errors.Is(err, errMoved) {
			if err == nil {
				w.say("  answered\n")
			}
			return err
		}
	}
}
