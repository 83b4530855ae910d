package records

import (
	"errors"
	"path/filepath"
	"testing"

	"handback/records/chain"
)

// elsewhere is a job of another book with some readings and a file, as a parcel.
func elsewhere(t testing.TB, stem string, readings int) Parcel {
	t.Helper()
	b, err := Create(ctx, filepath.Join(t.TempDir(), "elsewhere.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	first, err := b.NewJob(ctx, stem, opened("Elsewhere"), []byte("plan: elsewhere\n"), "another-nonce-0002")
	if err != nil {
		t.Fatal(err)
	}
	for i := range readings {
		if _, err := b.Append(ctx, first.Job, -1, measured(i)); err != nil {
			t.Fatal(err)
		}
	}
	file := []byte("a photograph from elsewhere\n")
	if _, err := b.Append(ctx, first.Job, -1, attached("elsewhere.txt", file)); err != nil {
		t.Fatal(err)
	}
	entries, err := b.Entries(ctx, first.Job)
	if err != nil {
		t.Fatal(err)
	}
	return Parcel{Entries: entries, Plan: []byte("plan: elsewhere\n"), Files: func(string) ([]byte, error) { return file, nil }}
}

// A job comes in two parts, and goes on here.
func TestTake_inParts(t *testing.T) {
	b := makeBook(t)
	p := elsewhere(t, "tap", 3)
	begin, rest := p, p
	begin.Entries, rest.Entries = p.Entries[:2], p.Entries[2:]
	if err := b.Take(ctx, rest); !errors.Is(err, ErrNoJob) {
		t.Errorf("the rest first: %v", err)
	}
	for _, part := range []Parcel{begin, rest, rest, p} { // what is here already is nothing new
		if err := b.Take(ctx, part); err != nil {
			t.Fatal(err)
		}
	}
	got, err := b.Entries(ctx, "tap-1")
	if err != nil {
		t.Fatal(err)
	}
	same(t, p.Entries, got)
	if _, err := b.Append(ctx, "tap-1", len(got), measured(9)); err != nil {
		t.Error(err)
	}
	if _, err := b.File(ctx, chain.HashFile([]byte("a photograph from elsewhere\n"))); err != nil {
		t.Error(err)
	}
	verified(t, b)
}

// A job whose id another has stands beside it under an id of its own, and takes entries
// like any other.
func TestTake_idTaken(t *testing.T) {
	for _, stem := range []string{"pump", "Pump"} {
		b := makeBook(t)
		makeJob(t, b, 2)
		p := elsewhere(t, stem, 2)
		if err := b.Take(ctx, p); err != nil {
			t.Fatal(err)
		}
		id := stem + "-1." + p.Entries[0].Hash[:12]
		for i := range 2 {
			if _, err := b.Append(ctx, id, len(p.Entries)+i, measured(i)); err != nil {
				t.Fatal(err)
			}
		}
		var moved *MovedError
		if _, err := b.Append(ctx, id, 1, measured(9)); !errors.As(err, &moved) {
			t.Errorf("behind an old entry: %v", err)
		}
		jobs, err := b.Jobs(ctx)
		if err != nil {
			t.Fatal(err)
		}
		same(t, 2, len(jobs))
		same(t, id, jobs[1].ID)
		same(t, len(p.Entries)+2, jobs[1].Entries)
		same(t, p.Entries[0].Hash, jobs[1].Hash)
		own, err := b.Entries(ctx, "pump-1")
		if err != nil {
			t.Fatal(err)
		}
		same(t, 3, len(own))
		if _, err := b.Entries(ctx, "pump-1.000000000000"); !errors.Is(err, ErrNoJob) {
			t.Errorf("an identifier of no job: %v", err)
		}
		verified(t, b)
		copied := filepath.Join(t.TempDir(), "copy.db")
		c, err := b.Backup(ctx, copied)
		if err != nil {
			t.Fatal(err)
		}
		same(t, Copied{2, 3 + len(p.Entries) + 2}, c)
		if _, err := b.Append(ctx, id, -1, measured(3)); err != nil {
			t.Fatal(err)
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(ctx, copied, b.Path(), false, dawn); !errors.Is(err, ErrLacks) {
			t.Errorf("restoring what lacks an entry beside: %v", err)
		}
	}
}

// What is wrong with a parcel leaves the book as it was.
func TestTake_allOrNothing(t *testing.T) {
	b := makeBook(t)
	makeJob(t, b, 1)
	before, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Parcel){
		"no file":    func(p *Parcel) { p.Files = func(string) ([]byte, error) { return nil, ErrNoFile } },
		"other file": func(p *Parcel) { p.Files = func(string) ([]byte, error) { return []byte("x"), nil } },
		"other plan": func(p *Parcel) { p.Plan = testPlan },
		"a gap":      func(p *Parcel) { p.Entries = append(p.Entries[:1:1], p.Entries[2:]...) },
		"turned":     func(p *Parcel) { p.Entries = append(p.Entries[1:2:2], p.Entries...) },
		"nothing":    func(p *Parcel) { p.Entries = nil },
	} {
		for _, stem := range []string{"pump", "tap"} {
			p := elsewhere(t, stem, 2)
			change(&p)
			if err := b.Take(ctx, p); err == nil {
				t.Errorf("%s, %s: taken", name, stem)
			}
			after, err := readAll(b)
			if err != nil {
				t.Fatal(err)
			}
			same(t, before, after)
		}
	}
	verified(t, b)
}
