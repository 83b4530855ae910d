package archive

import (
	"context"
	"fmt"
	"iter"
	"strings"
)

// Query says which jobs are looked for. What is "" is not asked; all that is asked must
// hold of one state of the job that is the newest.
type Query struct {
	Plant      string // id of a piece of plant, or words of what it is called
	Serial     string // of a piece of plant
	Asset      string // of a piece of plant
	Site       string // words of it or of its address
	Firm       string // words of the firm that tested, or that somebody works for
	From, To   string // days, of the newest entry; both count
	Kind       string // of a check
	Verdict    string // of the job, or of a check with Kind
	Instrument string // serial number, of one that gave an answer
	Person     string // id of who made an entry or signed, or words of their name
	Text       string // words of anything that is searched
	DefectOpen bool
	Forked     bool
}

// condition is a part of WHERE, with what its placeholders stand for: it has %s where
// their numbers go.
type condition struct {
	sql  string
	args []any
}

// within asks that a table holds a row of the state.
func within(table, where string, args ...any) condition {
	return condition{"(s.job, s.head) IN (SELECT job, head FROM " + table + " WHERE " + where + ")", args}
}

// contains is a pattern for LIKE that means the text itself, with anything around it.
func contains(text string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(legible(Plainly(text))) + "%"
}

const like = ` LIKE %s ESCAPE '\'`

// conditions are what a query asks, one by one.
func (q Query) conditions() []condition {
	var out []condition
	add := func(asked string, c condition) {
		if asked != "" {
			out = append(out, c)
		}
	}
	add(q.Plant, within("plants", "plant = %s OR plain"+like, key(q.Plant), contains(q.Plant)))
	add(q.Serial, within("plants", "serial = %s", key(q.Serial)))
	add(q.Asset, within("plants", "asset = %s", key(q.Asset)))
	add(q.Site, within("searched", "site"+like, contains(q.Site)))
	add(q.Firm, within("searched", "firm"+like, contains(q.Firm)))
	add(q.From, condition{"s.last >= %s", []any{legible(q.From)}})
	add(q.To, condition{"s.last < %s", []any{legible(q.To) + "U"}}) // T comes before U
	switch {
	case q.Kind != "" && q.Verdict != "":
		out = append(out, within("checks", "kind = %s AND verdict = %s", key(q.Kind), key(q.Verdict)))
	default:
		add(q.Kind, within("checks", "kind = %s", key(q.Kind)))
		add(q.Verdict, condition{"s.verdict = %s", []any{legible(q.Verdict)}})
	}
	add(q.Instrument, within("instruments", "serial = %s AND uses > 0", key(q.Instrument)))
	add(q.Person, condition{"((s.job, s.head) IN (SELECT job, head FROM people WHERE entries > 0 AND (person = %s OR plain" + like + ")) OR (s.job, s.head) IN (SELECT job, head FROM signatures WHERE person = %s OR plain" + like + "))",
		[]any{key(q.Person), contains(q.Person), legible(q.Person), contains(q.Person)}})
	add(q.Text, within("texts", "plain"+like, contains(q.Text)))
	if q.DefectOpen {
		out = append(out, within("defects", "closed = ''"))
	}
	if q.Forked {
		out = append(out, condition{"s.newests > 1", nil})
	}
	return out
}

// statement is the SQL of a query.
func (q Query) statement() (string, []any) {
	sql := "SELECT " + qualified("s", TableOf("states").Columns) + " FROM states s WHERE s.newest = 1"
	var args []any
	for _, c := range q.conditions() {
		numbers := make([]any, len(c.args))
		for i := range c.args {
			numbers[i] = fmt.Sprintf("$%d", len(args)+1+i)
		}
		sql += " AND " + fmt.Sprintf(c.sql, numbers...)
		args = append(args, c.args...)
	}
	return sql + " ORDER BY s.last DESC, s.job, s.head", args
}

// Find gives the newest states of the jobs that are looked for, those that were worked on
// last first.
func (a *Archive) Find(ctx context.Context, q Query) iter.Seq2[State, error] {
	return func(yield func(State, error) bool) {
		sql, args := q.statement()
		rows, err := a.db.QueryContext(ctx, sql, args...)
		if err != nil {
			yield(State{}, translate(a.path, err))
			return
		}
		defer rows.Close()
		var f State
		to, done := stateColumns(&f)
		for rows.Next() {
			if err := rows.Scan(to...); err != nil {
				yield(State{}, translate(a.path, err))
				return
			}
			if done(); !yield(f, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(State{}, translate(a.path, err))
		}
	}
}
