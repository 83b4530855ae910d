package records

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/records/chain"
	"handback/testdata/outside"
)

// childJob names what a re-executed test binary does instead of testing.
const childJob = "HANDBACK_RECORDS_CHILD"

func TestMain(m *testing.M) {
	if job := os.Getenv(childJob); job != "" {
		if err := children[job](os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(outside.Suite{M: m}.Run())
}

const testNonce = "invented-nonce-0001"

var (
	ctx      = context.Background()
	testPlan = []byte("plan: invented pumping station\n")
	// dawn is a fixed time in an offset that is neither UTC nor whole hours.
	dawn = time.Date(2026, 3, 1, 6, 30, 0, 250_000_000, time.FixedZone("", 5*3600+1800))
)

func measured(i int) chain.Draft {
	return chain.Draft{At: dawn.Add(time.Duration(i) * time.Minute), By: "Ada Example", Kind: "answers", Check: "lv-volts",
		Data: map[string]any{"as_entered": fmt.Sprintf("249.%d V", i), "volts": 249 + float64(i)/10, "note": "naïve “quoted” \u2028 <b> \t"}}
}

var testFile = []byte("an invented photograph\n")

func attached(name string, content []byte) chain.Draft {
	return chain.Draft{At: dawn.Add(time.Hour), By: "Ada Example", Kind: chain.KindAttach, Check: "lv-volts",
		Data: chain.NewAttached(name, content, "panel meter before closing", false), File: content}
}

func opened(title string) chain.Draft {
	return chain.Draft{At: dawn, By: "Ada Example", Kind: "opened", Data: map[string]any{"title": title}}
}

func makeBook(t testing.TB) *Book {
	t.Helper()
	b, err := Create(ctx, filepath.Join(t.TempDir(), "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func makeJob(t testing.TB, b *Book, readings int) chain.Entry {
	t.Helper()
	e, err := b.NewJob(ctx, "pump", opened("Return to service"), testPlan, testNonce)
	if err != nil {
		t.Fatal(err)
	}
	for i := range readings {
		if _, err := b.Append(ctx, e.Job, 1+i, measured(i)); err != nil {
			t.Fatal(err)
		}
	}
	return e
}

func verified(t testing.TB, b *Book) {
	t.Helper()
	if faults := verify(t, b); len(faults) != 0 {
		t.Fatalf("faults in a book that should have none: %v", faults)
	}
}

func verify(t testing.TB, b *Book) []chain.Fault {
	t.Helper()
	faults, err := b.Verify(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return faults
}

// content is everything a book holds for its readers.
type content struct {
	Jobs    []Job
	Entries map[string][]chain.Entry
	Plans   map[string][]byte
	Files   map[string][]byte
}

func readAll(b *Book) (content, error) {
	c := content{Entries: map[string][]chain.Entry{}, Plans: map[string][]byte{}, Files: map[string][]byte{}}
	var err error
	if c.Jobs, err = b.Jobs(ctx); err != nil {
		return c, err
	}
	for _, j := range c.Jobs {
		if c.Entries[j.ID], err = b.Entries(ctx, j.ID); err != nil {
			return c, err
		}
		if c.Plans[j.PlanHash], err = b.Plan(ctx, j.PlanHash); err != nil {
			return c, err
		}
		for _, e := range c.Entries[j.ID] {
			if e.Kind != chain.KindAttach {
				continue
			}
			a, err := chain.ReadAttached(e)
			if err != nil {
				return c, err
			}
			if c.Files[a.SHA256], err = b.File(ctx, a.SHA256); err != nil {
				return c, err
			}
		}
	}
	return c, nil
}

func same(t testing.TB, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}

// raw opens the file as any other program would, without this package's settings.
func raw(t testing.TB, path string) *sql.DB {
	t.Helper()
	u := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: "mode=rw"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return db
}

func mustExec(t testing.TB, db *sql.DB, query string, args ...any) {
	t.Helper()
	if _, err := db.Exec(query, args...); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
}
