package export_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/records/archive"
	"handback/records/chain"
	"handback/report"
	"handback/report/admit"
	"handback/report/export"
)

// exported is what an archive of jobs gives.
func exported(t *testing.T, lines bool, jobs map[string]*report.Job) map[string][]byte {
	t.Helper()
	ctx, now := context.Background(), time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	a, err := archive.Create(ctx, filepath.Join(t.TempDir(), "a"), nil, now)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for _, name := range slices.Sorted(maps.Keys(jobs)) {
		j := jobs[name]
		in, err := a.Receive(ctx, name, func(w io.Writer) error { _, err := io.WriteString(w, name); return err })
		if err != nil {
			t.Fatal(err)
		}
		taking := archive.Taking{Incoming: in, Rows: admit.Rows(j, nil, nil), List: chain.HashFile([]byte(name))}
		for _, e := range j.Entries {
			taking.Hashes = append(taking.Hashes, e.Hash)
		}
		if _, err := a.Take(ctx, now, taking); err != nil {
			t.Fatal(err)
		}
	}
	out := map[string][]byte{}
	err = export.Archive(ctx, a, lines, func(name string, write func(io.Writer) error) error {
		var b bytes.Buffer
		err := write(&b)
		out[name] = b.Bytes()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The tables of an archive are what their metadata say, and damage is found; the lines hold
// the same rows.
func TestArchive(t *testing.T) {
	jobs := jobs(t)
	files := exported(t, false, jobs)
	for _, p := range problems(t, files) {
		t.Error(p)
	}
	if len(files) != len(archive.Tables)+1 {
		t.Errorf("%d files", len(files))
	}
	broken := maps.Clone(files)
	broken["states.csv"] = files["states.csv"][:bytes.IndexByte(files["states.csv"], '\n')+1]
	if len(problems(t, broken)) == 0 {
		t.Error("no state is there, and nothing is wrong")
	}
	for name, content := range exported(t, true, jobs) {
		rows := 0
		for line := range bytes.Lines(content) {
			var row map[string]any
			if err := json.Unmarshal(line, &row); err != nil || row["job"] == nil || row["head"] == nil {
				t.Errorf("%s: %s: %v", name, line, err)
			}
			rows++
		}
		table, want := archive.TableOf(strings.TrimSuffix(name, ".jsonl")), 0
		for _, j := range jobs {
			want += table.Of(admit.Rows(j, nil, nil)).Len()
		}
		if rows != want {
			t.Errorf("%s has %d lines, want %d", name, rows, want)
		}
	}
}
