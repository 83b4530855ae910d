package cmd

import (
	"context"
	"strings"
	"testing"
	"time"

	"handback/records"
	"handback/records/chain"
)

// An entry that no version of this program writes, well hashed and in its place in the
// chain, is a fault that verify and doctor name; nothing is told of such a job.
func TestVerify_unknownEntry(t *testing.T) {
	for name, d := range map[string]chain.Draft{
		"kind":   {Kind: "whistle", Data: map[string]any{"tune": "none"}},
		"member": {Kind: "note", Data: map[string]any{"text": "looked", "tune": "none"}},
	} {
		t.Run(name, func(t *testing.T) {
			book, job := newJob(t, longPlan(1, 2))
			b, err := records.Open(context.Background(), book)
			if err != nil {
				t.Fatal(err)
			}
			d.At, d.By = time.Date(2026, 5, 12, 10, 0, 0, 0, time.UTC), "mira"
			if _, err := b.Append(context.Background(), job, -1, d); err != nil {
				t.Fatal(err)
			}
			if err := b.Close(); err != nil {
				t.Fatal(err)
			}
			for _, args := range [][]string{{"verify", job}, {"doctor"}} {
				if text := demands(t, exitIntegrity, book, args...); !strings.Contains(text, "FAULT: ") || !strings.Contains(text, "entry 2") {
					t.Errorf("%v names no fault of entry 2:\n%s", args, text)
				}
			}
			demands(t, exitIntegrity, book, "status", job)
		})
	}
}
