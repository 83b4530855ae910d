package checks

import (
	"fmt"
	"slices"
	"time"
)

// clockSlack is how far one clock at the switchboard may run ahead of another.
const clockSlack = 10 * time.Minute

// DoubtInstants names times later than the moment they were given.
func DoubtInstants(in Input, keys ...string) []Doubt {
	var out []Doubt
	for _, k := range keys {
		t := in.Answers[k].Time()
		if t.IsZero() || t.Sub(in.At) <= clockSlack {
			continue
		}
		if f, ok := FieldNamed(in.Form(), k); ok {
			out = append(out, Doubt{Fields: []string{k}, Said: Say("later-than-now", Label("field", f), At("read", t), At("now", in.At))})
		}
	}
	return out
}

// Moments are the moments at which clocks of a place show a time of day on a date, in
// order: one, none where the clocks are put forward over it, two where they are put back.
func Moments(date, timeOfDay time.Time, place *time.Location) []time.Time {
	y, m, d := date.Date()
	at := time.Date(y, m, d, timeOfDay.Hour(), timeOfDay.Minute(), timeOfDay.Second(), 0, place)
	if at.Hour() != timeOfDay.Hour() || at.Minute() != timeOfDay.Minute() {
		return nil
	}
	out := []time.Time{at}
	for _, shift := range []time.Duration{-2 * time.Hour, -time.Hour, -time.Hour / 2, time.Hour / 2, time.Hour, 2 * time.Hour} {
		if other := at.Add(shift); Clock(other) == Clock(at) {
			out = append(out, other)
		}
	}
	slices.SortFunc(out, time.Time.Compare)
	return out
}

// ErrPassedOver is that of a time of day that the clocks were put forward over.
func ErrPassedOver(date, timeOfDay time.Time) error {
	return fmt.Errorf("%s %s was passed over when the clocks were put forward: give the offset too, as in 2026-03-31T14:05:00+00:00", date.Format(time.DateOnly), timeOfDay.Format("15:04"))
}

// ErrTwice is that of a time of day that came twice when the clocks were put back.
func ErrTwice(at []time.Time) error {
	return fmt.Errorf("%s came twice when the clocks were put back: type the first as %s, the second as %s", at[0].Format("2006-01-02 15:04"), at[0].Format(time.RFC3339), at[1].Format(time.RFC3339))
}

func Clock(t time.Time) string { return t.Format("2006-01-02 15:04:05") }
