package archive

import (
	"context"
	"database/sql"
	"fmt"
)

// sqlitePages has the engine look at its pages.
func sqlitePages(ctx context.Context, db *sql.DB) (faults, warnings []string, err error) {
	rows, err := db.QueryContext(ctx, "PRAGMA integrity_check")
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return nil, nil, err
		}
		if line != "ok" {
			faults = append(faults, dataBase+": "+line)
		}
	}
	return faults, nil, rows.Err()
}

// sqliteSchema compares what the data base was made with, letter for letter.
func sqliteSchema(ctx context.Context, db *sql.DB, d dialect) ([]string, error) {
	rows, err := db.QueryContext(ctx, "SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite%'")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	is := map[string]string{}
	for rows.Next() {
		var name, sql string
		if err := rows.Scan(&name, &sql); err != nil {
			return nil, err
		}
		is[name] = sql
	}
	var out []string
	for _, o := range d.schema() {
		switch sql, ok := is[o.name]; {
		case !ok:
			out = append(out, fmt.Sprintf("%s: %s is not there", dataBase, o.name))
		case sql != o.sql:
			out = append(out, fmt.Sprintf("%s: %s is not as it was made", dataBase, o.name))
		}
		delete(is, o.name)
	}
	for name := range is {
		out = append(out, fmt.Sprintf("%s: %s was put in", dataBase, name))
	}
	return out, rows.Err()
}
