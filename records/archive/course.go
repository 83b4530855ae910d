package archive

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// Course says which values are looked for: those of one key of a check, in the newest
// states of all jobs on a piece of plant.
type Course struct {
	Plant string // id, serial or asset number of a piece of plant, or id of a plan
	Check string // "" for any
	Key   string // of the value; "" for any
	Site  string // words of the site or its address; "" for any
}

// CourseValue is a value with the job and the plant it is of.
type CourseValue struct {
	Result
	ID, Plan, Site     string // of the job
	Plant, PlantSerial string // "" where the plan alone was meant
	Kind, Place        string // of the check
	CheckVerdict       string
}

// statement joins values to what they are of: to pieces of plant, and to plans. Each half
// begins with what has the fewest rows: SQLite keeps the order of a CROSS JOIN.
func (c Course) statement() (sql string, args []any) {
	args = []any{key(c.Plant)}
	var more string
	for _, x := range []struct{ asked, where, arg string }{{c.Check, "r.check_id = %s", key(c.Check)}, {c.Key, "r.value_key = %s", key(c.Key)},
		{c.Site, "(s.job, s.head) IN (SELECT job, head FROM searched WHERE site" + like + ")", contains(c.Site)}} {
		if x.asked != "" {
			args = append(args, x.arg)
			more += " AND " + fmt.Sprintf(x.where, fmt.Sprint("$", len(args)))
		}
	}
	half := func(plant, from, where string) string {
		return "SELECT " + qualified("r", TableOf("results").Columns) + ", s.id, s.plan, s.site, " + plant + ", c.kind, c.place, c.verdict AS came FROM " + from + `
 JOIN results r ON r.job = s.job AND r.head = s.head AND r.newest = 1
 JOIN checks c ON c.job = r.job AND c.head = r.head AND c.check_id = r.check_id
 WHERE s.newest = 1 AND ` + where + more
	}
	return "SELECT * FROM (" + half("p.plant, p.serial", "plants p CROSS JOIN states s", "s.job = p.job AND s.head = p.head AND (p.plant = $1 OR p.serial = $1 OR p.asset = $1)") + " UNION ALL " +
		half("'' AS plant, '' AS serial", "states s", "s.plan = $1") + ") x ORDER BY judged, job, head, check_id, value_key, plant", args
}

// Values gives the values of a course, oldest first.
func (a *Archive) Values(ctx context.Context, c Course) ([]CourseValue, error) {
	columns := TableOf("results").Columns
	sql, args := c.statement()
	rows, err := a.db.QueryContext(ctx, sql, args...)
	if err != nil {
		return nil, translate(a.path, err)
	}
	defer rows.Close()
	var out []CourseValue
	var v CourseValue
	to, done := places(columns, reflect.ValueOf(&v.Result).Elem())
	to = append(to, &v.ID, &v.Plan, &v.Site, &v.Plant, &v.PlantSerial, &v.Kind, &v.Place, &v.CheckVerdict)
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return nil, translate(a.path, err)
		}
		done()
		out = append(out, v)
	}
	return out, translate(a.path, rows.Err())
}

// qualified are the names of columns of a table that a statement calls otherwise.
func qualified(table string, columns []Column) string {
	return table + "." + strings.ReplaceAll(names(columns), ", ", ", "+table+".")
}

// Used is a newest state in which an instrument was used, with the bag that holds it.
type Used struct {
	State
	Bag Bag
}

// UsedIn gives the newest states in which an instrument was used, the oldest first, that
// were worked on within a span of time: from a moment on and before another, "" for no end.
// The serial number is one as it is compared.
func (a *Archive) UsedIn(ctx context.Context, serial, from, to string) ([]Used, error) {
	states, kept := TableOf("states").Columns, bags.Columns
	rows, err := a.db.QueryContext(ctx, "SELECT "+qualified("s", states)+", "+qualified("b", kept)+` FROM states s
 JOIN bags b ON b.job = s.job AND b.head = s.head
 WHERE s.newest = 1 AND s.last >= $1 AND ($2 = '' OR s.opened < $2)
  AND (s.job, s.head) IN (SELECT job, head FROM instruments WHERE uses > 0 AND plain = $3)
 ORDER BY s.opened, s.job, s.head`, from, to, key(serial))
	if err != nil {
		return nil, translate(a.path, err)
	}
	defer rows.Close()
	var out []Used
	var u Used
	state, done := stateColumns(&u.State)
	bag, also := places(kept, reflect.ValueOf(&u.Bag).Elem())
	all := slices.Concat(state, bag)
	for rows.Next() {
		if err := rows.Scan(all...); err != nil {
			return nil, translate(a.path, err)
		}
		done()
		also()
		out = append(out, u)
	}
	return out, translate(a.path, rows.Err())
}

// ByHead is the bag that holds a state, by the hash of its newest entry.
func (a *Archive) ByHead(ctx context.Context, head string) (Bag, error) {
	found, err := list[Bag](ctx, a.db, bags, "WHERE head = $1 ORDER BY number", head)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("%w: its rows tell of the state %s, of which there is no bag", ErrDamaged, head)
	}
	if err != nil {
		return Bag{}, translate(a.path, err)
	}
	return found[0], nil
}
