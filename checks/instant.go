package checks

import (
	"fmt"
	"time"
)

// clockSlack is how far one clock at the switchboard may run ahead of another.
const clockSlack = 10 * time.Minute

// doubtInstants names times later than the moment they were given.
func doubtInstants(in Input, keys ...string) []Doubt {
	var out []Doubt
	form := in.Form()
	for _, k := range keys {
		t := in.Answers[k].Time()
		if f, ok := FieldNamed(form, k); ok && !t.IsZero() && t.Sub(in.At) > clockSlack {
			out = append(out, Doubt{Fields: []string{k}, Text: fmt.Sprintf("%s, %s, is later than now, %s", f.Label, clock(t), clock(in.At))})
		}
	}
	return out
}

func clock(t time.Time) string { return t.Format("2006-01-02 15:04:05") }
