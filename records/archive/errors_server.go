package archive

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
)

// undefinedTable is the SQLSTATE of a table that is not there.
const undefinedTable = "42P01"

// sqlState is the SQLSTATE of an error of a server, "" for another.
func sqlState(err error) string {
	var s interface{ SQLState() string }
	if errors.As(err, &s) {
		return s.SQLState()
	}
	return ""
}

// serverSays are classes of SQLSTATE, or whole ones, in plain words: Appendix A of the
// manual of PostgreSQL 15.
var serverSays = map[string]struct {
	kind  error
	words string
}{
	"08":    {ErrAway, Again},
	"57P":   {ErrAway, Again},
	"25006": {ErrReadOnly, "this server is a standby or was set to be read only; name the one that is written to"},
	"42501": {ErrReadOnly, "ask whoever runs the data base for the role " + roleAdd + " to add, " + roleRead + " to look"},
	"53":    {ErrFull, "the server has no room or no connection left, nothing of this was taken; make room and repeat"},
	"40":    {ErrBusy, "others add to it; repeat"},
	"55P03": {ErrBusy, "others add to it; repeat"},
	"XX001": {ErrDamaged, "the server cannot read its own pages"},
	"XX002": {ErrDamaged, "the server cannot read its own index"},
}

// Again is what to do where it is not known what the server did last.
const Again = "what was told as taken is kept; when it answers, run the same command again"

// translateServer puts what a server reports into plain words.
func translateServer(path string, err error) error {
	state := sqlState(err)
	for _, n := range []int{5, 3, 2} {
		if len(state) < n {
			continue
		}
		if says, known := serverSays[state[:n]]; known {
			return fmt.Errorf("archive %s: %w: %s: %w", path, says.kind, says.words, err)
		}
	}
	if state == "" && lostTouch(err) && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("archive %s: %w: %s: %w", path, ErrAway, Again, err)
	}
	return err
}

// lostTouch tells that a connection broke, or that nothing could be sent by it any more.
func lostTouch(err error) bool {
	var network net.Error
	var unsent interface{ SafeToRetry() bool } // as pgx marks what its connection, found closed, did not send
	return errors.As(err, &network) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, driver.ErrBadConn) || errors.Is(err, sql.ErrConnDone) || errors.As(err, &unsent) && unsent.SafeToRetry()
}
