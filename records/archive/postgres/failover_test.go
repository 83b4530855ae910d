package postgres_test

import (
	"errors"
	"testing"
	"time"

	"handback/records/archive"
	"handback/testdata/archives"
	"handback/testdata/outside"
)

// A server is lost in the middle of adding, and its standby takes its place: nothing that
// was told as taken is lost, and the same command, with the same URL, goes on.
func TestFailover(t *testing.T) {
	outside.Long(t)
	first := outside.NewPostgres(t)
	first.SQL("public", "CREATE SCHEMA owner")
	second := first.Standby("second")
	first.SQL("public", "ALTER SYSTEM SET synchronous_standby_names = 'second'")
	first.SQL("public", "SELECT pg_reload_conf()")
	for start := time.Now(); first.SQL("public", "SELECT sync_state FROM pg_stat_replication") != "sync\n"; time.Sleep(50 * time.Millisecond) {
		if time.Since(start) > time.Minute {
			t.Fatalf("no standby is waited for: %s", first.SQL("public", "SELECT * FROM pg_stat_replication"))
		}
	}
	url := "postgres://owner@/postgres?host=" + first.Dir + "," + second.Dir + "&target_session_attrs=read-write&search_path=owner"
	a := create(t, url)
	defer a.Close()
	second.Follow(first)
	if b, err := archive.Open(ctx, second.URL("owner", "search_path=owner")); err != nil {
		t.Errorf("a standby cannot be looked at: %v", err)
	} else if err := b.SetKeep(ctx, archive.Keep{Years: 1}, now); !errors.Is(err, archive.ErrReadOnly) {
		t.Errorf("a standby is written to: %v", err)
	} else {
		b.Close()
	}

	var all []archives.Fake
	for i := range 400 {
		all = append(all, archives.Fake{Seed: i, Path: "abcd"})
	}
	const before = 10 // are taken before the server is lost
	lost := make(chan struct{})
	told := 0
	for i, f := range all {
		x, err := f.Taking(a)
		if err != nil {
			t.Fatal(err)
		}
		if i == before {
			go func() { first.Kill(); close(lost) }()
		}
		if _, err = a.Take(ctx, now, x); err != nil {
			if !errors.Is(err, archive.ErrAway) {
				t.Errorf("after %d bags: %v", told, err)
			}
			break
		}
		told++
	}
	<-lost
	if told < before || told == len(all) {
		t.Fatalf("it was lost after %d of %d bags: that tells nothing", told, len(all))
	}
	t.Logf("lost after %d bags", told)
	second.Promote()

	b, err := archive.Open(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for i, f := range all[:told+before] {
		x, err := f.Taking(b)
		if err != nil {
			t.Fatal(err)
		}
		became, err := b.Take(ctx, now, x)
		x.Drop()
		if err != nil || i < told && became[0] != archive.Known || i > told && became[0] != archive.New { // what came of the one in between nobody knows
			t.Errorf("bag %d of %d told became %v: %v", i, told, became, err)
		}
	}
	faultOf(t, b, "")
	n := 0
	for kept, err := range b.Bags(ctx, 1) {
		if err != nil {
			t.Fatal(err)
		}
		path, hash, err := b.File(ctx, kept)
		if err != nil {
			t.Fatal(err)
		}
		if is, err := archive.Rehash(path); err != nil || is != hash {
			t.Errorf("bag %d is %s: %v", kept.Number, is, err)
		}
		b.Release(path)
		n++
	}
	if n != told+before {
		t.Errorf("%d bags are kept", n)
	}
}
