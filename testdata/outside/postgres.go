package outside

import (
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Postgres is a server of PostgreSQL 15, as Debian packages it, on a Unix socket in a
// folder of its own. Its only user is owner, whom it takes at their word.
type Postgres struct {
	testing.TB
	Dir string // of its socket, and of its data in data/
}

// postgresTools is where Debian puts what is not meant for every user.
const postgresTools = "/usr/lib/postgresql/15/bin"

// NewPostgres makes a server and starts it, with lines for postgresql.conf; it is stopped
// and gone after the test.
func NewPostgres(t testing.TB, settings ...string) *Postgres {
	t.Helper()
	p := newPostgres(t)
	p.Run("initdb", "-D", p.data(), "-U", "owner", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync", "--data-checksums")
	p.start(settings)
	return p
}

// Standby makes a server that follows another, which must allow it, under a name.
func (p *Postgres) Standby(name string) *Postgres {
	p.Helper()
	s := newPostgres(p.TB)
	s.Run("pg_basebackup", "-D", s.data(), "-h", p.Dir, "-U", "owner", "-c", "fast", "-R", "-X", "stream", "--no-sync", "-d", "application_name="+name)
	s.start(nil)
	return s
}

func newPostgres(t testing.TB) *Postgres {
	t.Helper()
	Tool(t, filepath.Join(postgresTools, "initdb"), "--version")
	dir, err := os.MkdirTemp("/tmp", "pg") // the name of a socket is short, and others must get there
	if err != nil {
		t.Fatal(err)
	}
	p := &Postgres{t, dir}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if os.Getuid() == 0 { // it refuses to run as root
		if err := os.Chown(dir, nobody(t), -1); err != nil {
			t.Fatal(err)
		}
	}
	return p
}

// nobody is the number of the user who owns nothing.
func nobody(t testing.TB) (id int) {
	t.Helper()
	u, err := user.Lookup("nobody")
	if err == nil {
		_, err = fmt.Sscan(u.Uid, &id)
	}
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func (p *Postgres) data() string { return filepath.Join(p.Dir, "data") }

// Run runs one of its tools as the user that it runs as.
func (p *Postgres) Run(tool string, args ...string) string {
	p.Helper()
	out, err := p.command(tool, args...).CombinedOutput()
	if err != nil {
		p.Fatalf("%s %v: %v: %s", tool, args, err, out)
	}
	return string(out)
}

func (p *Postgres) command(tool string, args ...string) *exec.Cmd {
	p.Helper()
	all := append([]string{filepath.Join(postgresTools, tool)}, args...)
	if os.Getuid() == 0 {
		all = append([]string{Tool(p, "setpriv"), fmt.Sprintf("--reuid=%d", nobody(p)), "--clear-groups"}, all...)
	}
	c := exec.Command(all[0], all[1:]...)
	c.Dir = p.Dir
	return c
}

func (p *Postgres) start(settings []string) {
	p.Helper()
	lines := append([]string{"listen_addresses = ''", "unix_socket_directories = '" + p.Dir + "'", "max_connections = 40", "shared_buffers = 64MB"}, settings...)
	file := filepath.Join(p.data(), "postgresql.auto.conf")
	before, err := os.ReadFile(file) // pg_basebackup writes there whom to follow
	if err == nil {
		err = os.WriteFile(file, append(before, strings.Join(append(lines, ""), "\n")...), 0o600)
	}
	if err != nil {
		p.Fatal(err)
	}
	p.Cleanup(func() { p.command("pg_ctl", "-D", p.data(), "-m", "immediate", "-w", "stop").Run() }) // a test may have stopped it
	p.Run("pg_ctl", "-D", p.data(), "-l", filepath.Join(p.Dir, "log"), "-w", "-t", "120", "start")
}

// Kill stops it as a power cut would stop its processes, but for what the kernel holds.
func (p *Postgres) Kill() {
	p.Helper()
	p.Run("pg_ctl", "-D", p.data(), "-m", "immediate", "-w", "stop")
}

// Follow waits until a standby shows what it has by now: a commit is told when the standby
// keeps it, which is before it shows it.
func (p *Postgres) Follow(first *Postgres) {
	p.Helper()
	at := strings.TrimSpace(first.SQL("public", "SELECT pg_current_wal_lsn()"))
	for start := time.Now(); p.SQL("public", "SELECT pg_last_wal_replay_lsn() >= '"+at+"'") != "t\n"; time.Sleep(20 * time.Millisecond) {
		if time.Since(start) > time.Minute {
			p.Fatalf("%s is not reached: %s", at, p.SQL("public", "SELECT pg_last_wal_replay_lsn()"))
		}
	}
}

// Promote makes a standby one that is written to.
func (p *Postgres) Promote() { p.Helper(); p.Run("pg_ctl", "-D", p.data(), "-w", "promote") }

// URL is what names it, for a user, with settings of the connection.
func (p *Postgres) URL(user string, settings ...string) string {
	return "postgres://" + user + "@/postgres?" + strings.Join(append([]string{"host=" + p.Dir}, settings...), "&")
}

// SQL has psql run statements in a schema, as its user owner, and gives what it prints.
func (p *Postgres) SQL(schema, statements string) string {
	p.Helper()
	said, err := p.Try("owner", schema, statements)
	if err != nil {
		p.Fatalf("psql: %v: %s", err, said)
	}
	return said
}

// Try is SQL of a user, of statements that may be refused.
func (p *Postgres) Try(user, schema, statements string) (said string, err error) {
	p.Helper()
	c := p.command("psql", "-h", p.Dir, "-U", user, "-d", "postgres", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1")
	c.Stdin = strings.NewReader("SET search_path = " + schema + ";\n" + statements + "\n")
	out, err := c.CombinedOutput()
	return string(out), err
}
