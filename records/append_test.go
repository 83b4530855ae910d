package records

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
)

func TestNewJob_ids(t *testing.T) {
	b := makeBook(t)
	for _, c := range []struct{ stem, want string }{
		{"pump", "pump-1"}, {"pump", "pump-2"}, {"pump-2", "pump-2-1"}, {"Pump", "Pump-3"}, {"pum", "pum-1"}, {"pump", "pump-4"},
	} {
		e, err := b.NewJob(ctx, c.stem, opened(c.stem), testPlan, testNonce)
		if err != nil {
			t.Fatal(err)
		}
		same(t, c.want, e.Job)
		same(t, 1, e.Seq)
	}
	jobs, err := b.Jobs(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, j := range jobs {
		ids = append(ids, j.ID)
	}
	same(t, []string{"pump-1", "pump-2", "pump-2-1", "Pump-3", "pum-1", "pump-4"}, ids)
	verified(t, b)
}

func TestNewJob_nonce_separates(t *testing.T) {
	a, err := makeBook(t).NewJob(ctx, "pump", opened("x"), testPlan, "device-a-0123456789")
	if err != nil {
		t.Fatal(err)
	}
	b, err := makeBook(t).NewJob(ctx, "pump", opened("x"), testPlan, "device-b-0123456789")
	if err != nil {
		t.Fatal(err)
	}
	if a.Job != b.Job || a.Prev == b.Prev || a.Hash == b.Hash {
		t.Errorf("equal ids must have different chains: %s %s", a.Body, b.Body)
	}
}

func TestNewJob_refused(t *testing.T) {
	b := makeBook(t)
	with := func(data any) chain.Draft { d := opened(""); d.Data = data; return d }
	cases := []struct {
		name, stem string
		first      chain.Draft
		plan       []byte
		nonce      string
		want       string
	}{
		{"no stem", "", opened(""), testPlan, testNonce, "job name"},
		{"path", "../x", opened(""), testPlan, testNonce, "job name"},
		{"letter", "pumpe-ä", opened(""), testPlan, testNonce, "job name"},
		{"long", strings.Repeat("x", 65), opened(""), testPlan, testNonce, "job name"},
		{"short nonce", "pump", opened(""), testPlan, "0123", "nonce"},
		{"quoted nonce", "pump", opened(""), testPlan, `0123456789abcdef"`, "nonce"},
		{"no plan", "pump", opened(""), nil, testNonce, "plan of 0"},
		{"large plan", "pump", opened(""), make([]byte, chain.MaxPlan+1), testNonce, "plan of"},
		{"own nonce", "pump", with(map[string]string{"nonce": "x"}), testPlan, testNonce, "leave it out"},
		{"own plan hash", "pump", with(map[string]string{"plan_hash": "x"}), testPlan, testNonce, "leave it out"},
		{"title", "pump", with(map[string]int{"title": 1}), testPlan, testNonce, "title"},
		{"data", "pump", with(nil), testPlan, testNonce, "object"},
		{"by", "pump", chain.Draft{At: dawn, Kind: "opened", Data: struct{}{}}, testPlan, testNonce, "by is empty"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if _, err := b.NewJob(ctx, c.stem, c.first, c.plan, c.nonce); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	if jobs, err := b.Jobs(ctx); err != nil || len(jobs) != 0 {
		t.Errorf("refused jobs were written: %v %v", jobs, err)
	}
	verified(t, b) // no plan is left without a job either
}

func TestAppend_moved(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 2).Job
	for _, after := range []int{0, 2, 4} {
		var moved *MovedError
		if _, err := b.Append(ctx, job, after, measured(9)); !errors.As(err, &moved) || *moved != (MovedError{job, after, 3}) {
			t.Errorf("after %d: got %v, want MovedError to 3", after, err)
		}
	}
	if es, err := b.Append(ctx, job, 3, measured(9)); err != nil || es[0].Seq != 4 {
		t.Errorf("after 3: got %v %v", es, err)
	}
	if es, err := b.Append(ctx, job, -1, measured(9)); err != nil || es[0].Seq != 5 {
		t.Errorf("after -1: got %v %v", es, err)
	}
	if _, err := b.Append(ctx, job, -1); err == nil {
		t.Error("appending nothing was accepted")
	}
}

// Two books on one file: each sees what the other wrote, and a stale writer is told.
func TestAppend_two_books(t *testing.T) {
	a := makeBook(t)
	job := makeJob(t, a, 0).Job
	b, err := Open(ctx, a.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if _, err := b.Append(ctx, job, 1, measured(1)); err != nil {
		t.Fatal(err)
	}
	var moved *MovedError
	if _, err := a.Append(ctx, job, 1, measured(2)); !errors.As(err, &moved) || moved.Now != 2 {
		t.Errorf("got %v, want MovedError to 2", err)
	}
	const each = 40
	errs := make(chan error, 2)
	for w, book := range []*Book{a, b} {
		go func() {
			for i := range each {
				d := measured(i)
				d.By = fmt.Sprint("writer ", w)
				if _, err := book.Append(ctx, job, -1, d); err != nil {
					errs <- err
					return
				}
			}
			errs <- nil
		}()
	}
	if err := errors.Join(<-errs, <-errs); err != nil {
		t.Fatal(err)
	}
	checkWriters(t, a, job, 2, each, 2)
}

// checkWriters demands that every line of every writer is there, in its own order.
func checkWriters(t *testing.T, b *Book, job string, writers, each, before int) {
	t.Helper()
	verified(t, b)
	es, err := b.Entries(ctx, job)
	if err != nil {
		t.Fatal(err)
	}
	same(t, before+writers*each, len(es))
	next := map[string]int{}
	for _, e := range es[before:] {
		if want := measured(next[e.By]).At; !e.At.Equal(want) {
			t.Fatalf("entry %d of %s is of %s, want %s: lost or out of order", e.Seq, e.By, e.At, want)
		}
		next[e.By]++
	}
	same(t, writers, len(next))
}

func TestAppend_busy(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	other := raw(t, b.Path())
	mustExec(t, other, "BEGIN IMMEDIATE")
	mustExec(t, b.db, "PRAGMA busy_timeout = 50") // the test need not wait the usual 5 s
	_, err := b.Append(ctx, job, -1, measured(1))
	if !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), "another handback is writing this book") {
		t.Errorf("got %v, want ErrBusy in words", err)
	}
	mustExec(t, other, "ROLLBACK")
	if _, err := b.Append(ctx, job, 1, measured(1)); err != nil {
		t.Errorf("after the other finished: %v", err)
	}
}

func TestAppend_cancelled(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	gone, cancel := context.WithTimeout(ctx, time.Nanosecond)
	defer cancel()
	<-gone.Done()
	if _, err := b.Append(gone, job, -1, measured(1)); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v, want the error of the context", err)
	}
	if _, err := b.Verify(gone); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("Verify: got %v, want the error of the context", err)
	}
	if _, err := b.Append(ctx, job, 1, measured(1)); err != nil {
		t.Error(err)
	}
	verified(t, b)
}
