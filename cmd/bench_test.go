package cmd

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records"
	"handback/report"
)

// median of durations, none of which may be missing.
func median(d []time.Duration) time.Duration {
	d = slices.Sorted(slices.Values(d))
	return d[len(d)/2]
}

// sideBySide runs two works in turn, the first of the pair drawn by lot, and reports
// their medians and how many times the second's the first's is. ready is run before
// each pair and not measured.
func sideBySide(b *testing.B, ready, ours, floor func()) {
	var mine, bare []time.Duration
	timed := func(into *[]time.Duration, work func()) {
		start := time.Now()
		work()
		*into = append(*into, time.Since(start))
	}
	for b.Loop() {
		ready()
		if rand.IntN(2) == 0 {
			timed(&mine, ours)
			timed(&bare, floor)
		} else {
			timed(&bare, floor)
			timed(&mine, ours)
		}
	}
	b.ReportMetric(float64(median(mine).Microseconds()), "ours-µs")
	b.ReportMetric(float64(median(bare).Microseconds()), "floor-µs")
	b.ReportMetric(float64(median(mine))/float64(median(bare)), "ratio")
}

// buildProgram builds a package as it is shipped.
func buildProgram(b testing.TB, dir, name, pkg string) string {
	b.Helper()
	out := filepath.Join(dir, name)
	if runtime.GOOS == "windows" {
		out += ".exe"
	}
	cmd := exec.Command("go", "build", "-o", out, pkg)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if talk, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, talk)
	}
	return out
}

// BenchmarkStart measures a whole process of status on the demo's book against one
// of a Go program that does nothing.
func BenchmarkStart(b *testing.B) {
	dir := b.TempDir()
	empty := filepath.Join(dir, "empty.go")
	if err := os.WriteFile(empty, []byte("package main\n\nfunc main() {}\n"), 0o600); err != nil {
		b.Fatal(err)
	}
	nothing := buildProgram(b, dir, "nothing", empty)
	ours := buildProgram(b, dir, "handback", "handback/cmd/handback")
	played := filepath.Join(dir, "played")
	if out, err := exec.Command(ours, "demo", "-o", played).CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	book := filepath.Join(played, "book.db")
	out, err := exec.Command(ours, "--book", book, "status", "t2-return-1").Output()
	if err != nil || !strings.Contains(string(out), "t2-return-1") {
		b.Fatalf("%v\n%s", err, out)
	}
	run := func(name string, args ...string) func() {
		return func() {
			if err := exec.Command(name, args...).Run(); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.Run("status", func(b *testing.B) {
		sideBySide(b, func() {}, run(ours, "--book", book, "status", "t2-return-1"), run(nothing))
	})
	b.Run("version", func(b *testing.B) { sideBySide(b, func() {}, run(ours, "--version"), run(nothing)) })
}

// jobLines is how many lines a job of the benchmark gets before the next begins: an
// ordinary job's.
const jobLines = 100

// BenchmarkAdd measures one accepted line, folded and on the disk, against a write
// of as many bytes and an fsync in the same folder.
func BenchmarkAdd(b *testing.B) {
	ctx := context.Background()
	dir := b.TempDir()
	env := System()
	env.Book, env.Err = filepath.Join(dir, "book.db"), io.Discard
	plan := longPlan(1, jobLines)
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), []byte(plan), 0o600); err != nil {
		b.Fatal(err)
	}
	open := func() *session {
		job := openJob(b, env.Book)
		s, err := openWrite(ctx, &env, job, "")
		if err != nil {
			b.Fatal(err)
		}
		return s
	}
	s := open()
	n := 0
	line := func() records.Draft {
		n++
		typed := fmt.Sprintf("%d.1", 100+n)
		return records.Draft{Kind: report.KindRead, Check: "c1", Data: report.Read{Attempt: 1,
			Answers: checks.Answers{fmt.Sprintf("p%d", n): {Typed: typed, Value: float64(100+n) + 0.1, Unit: "V"}}}}
	}
	if err := s.add(ctx, line()); err != nil {
		b.Fatal(err)
	}
	same := append([]byte{}, s.job.Head().Body...)
	raw, err := os.Create(filepath.Join(dir, "raw"))
	if err != nil {
		b.Fatal(err)
	}
	defer raw.Close()
	ready := func() {
		if n == jobLines {
			s.close()
			s, n = open(), 0
		}
	}
	sideBySide(b, ready, func() {
		if err := s.add(ctx, line()); err != nil {
			b.Fatal(err)
		}
	}, func() {
		if _, err := raw.Write(same); err != nil {
			b.Fatal(err)
		}
		if err := raw.Sync(); err != nil {
			b.Fatal(err)
		}
	})
	s.close()
}
