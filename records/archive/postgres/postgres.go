// Package postgres lets archives be kept in PostgreSQL. A program that imports it knows
// URLs that begin with postgres://; what is asked of the data base stands in package
// archive.
package postgres

import (
	"context"
	"database/sql"
	"iter"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"handback/records/archive"
)

var _ = archive.Register(server{}, "postgres", "postgresql")

type server struct{}

// patience is how long a server may take to answer at first, where the URL does not say
// (our choice).
const patience = 10 * time.Second

// settings of each session. None is less careful than the server: what was told as taken is
// on its disk, and on every standby it waits for. And every question is planned for what it
// asks: a plan for any serial number would go through all jobs for the one that has it.
const settings = `SELECT set_config('plan_cache_mode', 'force_custom_plan', false);
SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') IN ('off', 'local')`

func (server) Open(ctx context.Context, url string, readOnly bool) (*sql.DB, error) {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = patience
	}
	if config.RuntimeParams["application_name"] == "" {
		config.RuntimeParams["application_name"] = "handback"
	}
	if readOnly {
		config.RuntimeParams["default_transaction_read_only"] = "on"
	}
	db := stdlib.OpenDB(*config, stdlib.OptionAfterConnect(func(ctx context.Context, c *pgx.Conn) error {
		_, err := c.Exec(ctx, settings)
		return err
	}))
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

func (server) Copy(ctx context.Context, on *sql.Conn, table string, columns []string, rows iter.Seq[[]any]) error {
	return on.Raw(func(driver any) error {
		c := driver.(*stdlib.Conn).Conn()
		next, stop := iter.Pull(rows)
		defer stop()
		_, err := c.CopyFrom(ctx, pgx.Identifier{table}, columns, pgx.CopyFromFunc(func() ([]any, error) {
			row, _ := next()
			return row, nil
		}))
		return err
	})
}
