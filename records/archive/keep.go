package archive

import (
	"context"
	"errors"
	"time"
)

// Keep says until when jobs must be kept. A later one stands in the place of an earlier one
// for the same jobs; one for a job goes before one for a plan, and that before one for all.
type Keep struct {
	Number int    `json:"number" title:"in the order they were said, from 1"`
	Job    string `json:"job" title:"identifier of the job; empty for others"`
	Plan   string `json:"plan" title:"id of the plan of the jobs; empty for others"`
	Until  string `json:"until" title:"last day; empty where years are told"`
	Years  int    `json:"years" title:"years after the day of the newest entry; 0 where a day is told"`
	Person string `json:"person" title:"who said so"`
	Why    string `json:"why" title:"why"`
	Since  string `json:"since" title:"when it was said"`
}

var keeps = keptTable("keeps", Keep{}, "number")

// SetKeep says until when jobs must be kept.
func (a *Archive) SetKeep(ctx context.Context, k Keep, now time.Time) error {
	if (k.Until == "") == (k.Years == 0) || k.Years < 0 || k.Job != "" && k.Plan != "" {
		return errors.New("a day or a number of years is wanted, for one job, the jobs of one plan, or all")
	}
	k.Since = Moment(now)
	return a.write(ctx, func(tx *txn) error {
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) + 1 FROM keeps").Scan(&k.Number); err != nil {
			return err
		}
		return insert(ctx, tx, keeps, []Keep{k})
	})
}

// Keeps are all that was ever said, in its order.
func (a *Archive) Keeps(ctx context.Context) (Keeps, error) {
	out, err := list[Keep](ctx, a.db, keeps, "ORDER BY number")
	return out, translate(a.path, err)
}

// Keeps say until when jobs must be kept, in the order it was said.
type Keeps []Keep

// Until is the last day on which the job of a state must be kept, "" for none, and what says so.
func (all Keeps) Until(s State) (day string, by Keep) {
	rank := func(k Keep) int {
		switch {
		case k.Job != "" && k.Job == s.Job:
			return 3
		case k.Plan != "" && k.Plan == s.Plan:
			return 2
		case k.Job == "" && k.Plan == "":
			return 1
		}
		return 0
	}
	best := 1
	for _, k := range all {
		if r := rank(k); r >= best {
			best, by = r, k
		}
	}
	if by.Number == 0 || by.Until != "" {
		return by.Until, by
	}
	last, err := time.Parse(time.RFC3339, s.Last)
	if err != nil { // a state without a time is never let go of
		return "9999-12-31", by
	}
	return Day(last.AddDate(by.Years, 0, 0)), by
}
