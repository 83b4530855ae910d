package cmd

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// falselyPassed is a job of a plan whose first check read far too much and was recorded as a
// pass by another hand, in a sound chain.
func falselyPassed(t *testing.T, plan string) (book, job string) {
	t.Helper()
	book, job = newJob(t, plan)
	b, err := records.Open(t.Context(), book)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 5, 12, 7, 59, 0, 0, time.UTC)
	read := checks.Answers{"meter": {Typed: "dmm", Word: "dmm"}, "p1": {Typed: "1200000", Value: 1.2e6, Unit: "V"}}
	_, err = b.Append(t.Context(), job, -1, chain.Draft{At: at, By: "ada", Kind: report.EntryRead, Check: "c1", Data: report.Read{Attempt: 1, Answers: read}},
		chain.Draft{At: at, By: "ada", Kind: report.EntryJudge, Check: "c1", Data: report.Judged{Attempt: 1, Verdict: checks.Pass, Reasons: []report.Reason{}, Values: map[string]float64{}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return book, job
}

// What another hand recorded makes nothing ready: it is judged again before status says so.
// Where the job is not ready anyway it is shown as recorded, and verify finds it.
func TestStatus_falselyPassed(t *testing.T) {
	for n, want := range map[int][]string{
		1: {"not ready: 1 check open; 1 point against it", "recorded as pass, judged again it comes to "},
		2: {"not ready: 1 check open\n", "1  c1  pass  "},
	} {
		t.Run(fmt.Sprint(n, " checks"), func(t *testing.T) {
			book, job := falselyPassed(t, longPlan(n, 1))
			text := demands(t, exitNotReady, book, "status", job)
			for _, w := range want {
				if !strings.Contains(text, w) {
					t.Errorf("status does not say %q:\n%s", w, text)
				}
			}
			if text := demands(t, exitIntegrity, book, "verify", job); !strings.Contains(text, "recorded as pass, judged again it comes to ") {
				t.Errorf("verify does not tell the forged verdict:\n%s", text)
			}
			if text := demands(t, exitDone, book, "flags", job); strings.Contains(text, "entry 0") || !strings.Contains(text, "recorded as pass, judged again it comes to ") {
				t.Errorf("flags tells the forged verdict of no entry:\n%s", text)
			}
			if text := demands(t, exitIntegrity, book, "sign", job, "--as", "technician", "--name-stops", "--yes"); !strings.Contains(text, "nobody signs that") {
				t.Errorf("a record that is not intact may be signed:\n%s", text)
			}
		})
	}
}

// Nor does it free a hold point: the step behind it is a person's next.
func TestStatus_falselyFree(t *testing.T) {
	rest := strings.Replace(longPlan(2, 1), "  - {check: c2,", "  - {hold: go, action: Close the breaker}\n  - {check: c2,", 1)
	book, job := falselyPassed(t, rest)
	text := demands(t, exitNotReady, book, "status", job)
	if !strings.Contains(text, "HOLD go  do not proceed") || !strings.Contains(text, "recorded as pass, judged again it comes to ") {
		t.Errorf("the hold is not said to stand:\n%s", text)
	}
}

// pieces counts how often it is written to.
type pieces struct {
	bytes.Buffer
	n int
}

func (p *pieces) Write(b []byte) (int, error) {
	p.n++
	return p.Buffer.Write(b)
}

// A long answer is written in a few pieces: each is a call of the system, and wakes a reader.
func TestStatus_inFewPieces(t *testing.T) {
	book, job := newJob(t, longPlan(60, 2))
	var out pieces
	env := session.System()
	env.Out, env.Err, env.Agent, env.Book = &out, io.Discard, "", book
	if status := Main([]string{"status", job}, env); status != exitNotReady || strings.Count(out.String(), "\n") < 60 {
		t.Fatalf("status %d:\n%s", status, out.String())
	}
	if out.n > 3 {
		t.Errorf("%d pieces of an answer of %d bytes", out.n, out.Len())
	}
}
