package fieldsheet

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/report"
)

// momentWords is what a cell for a time takes.
const momentWords = "type 14:05, 2026-03-31 14:05 or 2026-03-31T14:05:00+00:00"

// instant reads a time from outside. A date is taken as it stands, in the time zone
// of the laptop; a time of day gets its date from the form, or is of the one day
// between making and taking back that it can be of.
func (t *taker) instant(f Filled, date *Filled) (time.Time, error) {
	if f.Moment != nil {
		return t.instantOfDays(f, date)
	}
	if at, err := time.Parse(time.RFC3339, f.Typed); err == nil {
		return at, nil
	}
	if strings.EqualFold(f.Typed, "now") {
		return time.Time{}, errors.New("now says nothing on a sheet: " + momentWords)
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05"} {
		if at, err := time.Parse(layout, f.Typed); err == nil {
			return t.local(at, at)
		}
	}
	for _, layout := range []string{"15:04", "15:04:05"} {
		if at, err := time.Parse(layout, f.Typed); err == nil {
			return t.timeOfDay(at, date)
		}
	}
	return time.Time{}, errors.New("not a time: " + momentWords)
}

// epoch is day 0 of a spreadsheet's days from 1900-03-01 on (ECMA-376, part 1,
// 18.17.4.1).
var epoch = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)

// fromDays is the moment that days from epoch mean, to the second.
func fromDays(days float64) time.Time {
	whole := math.Floor(days)
	return epoch.AddDate(0, 0, int(whole)).Add(time.Duration(math.Round((days-whole)*86400)) * time.Second)
}

func (t *taker) instantOfDays(f Filled, date *Filled) (time.Time, error) {
	days := f.Moment.days
	switch {
	case !(days >= 0 && days < 110_000): // the year 2201
		return time.Time{}, errors.New("no moment of our time: " + momentWords)
	case days < 1:
		return t.timeOfDay(fromDays(days), date)
	case days == math.Floor(days):
		return time.Time{}, errors.New("a date without a time of day: " + momentWords)
	}
	at := fromDays(days)
	return t.local(at, at)
}

// day reads the date of a form.
func (t *taker) day(f Filled) (time.Time, error) {
	if f.Moment != nil && f.Moment.days >= 1 && f.Moment.days < 110_000 {
		return fromDays(math.Floor(f.Moment.days)), nil
	}
	d, err := time.Parse(time.DateOnly, f.Typed)
	if err != nil || f.Moment != nil || d.Year() < 2000 {
		return time.Time{}, errors.New("not a date: type 2026-03-31")
	}
	return d, nil
}

func (t *taker) timeOfDay(clock time.Time, date *Filled) (time.Time, error) {
	if date != nil {
		day, err := t.day(*date)
		if err != nil {
			return time.Time{}, fmt.Errorf("the date of the readings at %s is %w", date.Place, err)
		}
		return t.local(day, clock)
	}
	from, to := t.o.After.Add(-report.ClockSlack), t.o.Now.Add(report.ClockSlack)
	var found []time.Time
	for day := from.In(t.o.Now.Location()).AddDate(0, 0, -1); !day.After(to.AddDate(0, 0, 1)) && len(found) < 2; day = day.AddDate(0, 0, 1) {
		at, err := t.local(day, clock)
		if err == nil && !at.Before(from) && !at.After(to) {
			found = append(found, at)
		}
	}
	switch len(found) {
	case 0:
		return time.Time{}, fmt.Errorf("there was no such time between %s and now: give the date too, as in 2026-03-31 14:05", t.o.After.In(t.o.Now.Location()).Format("2006-01-02 15:04"))
	case 1:
		return found[0], nil
	}
	return time.Time{}, fmt.Errorf("it may be of %s or of %s: give the date too, as in 2026-03-31 14:05", found[0].Format(time.DateOnly), found[1].Format(time.DateOnly))
}

// local puts day and time of day together in the laptop's time zone. A time that
// the clocks passed over, or showed twice, is not taken.
func (t *taker) local(day, clock time.Time) (time.Time, error) {
	switch at := checks.Moments(day, clock, t.o.Now.Location()); len(at) {
	case 0:
		return time.Time{}, checks.ErrPassedOver(day, clock)
	case 1:
		return at[0], nil
	default:
		return time.Time{}, checks.ErrTwice(at)
	}
}
