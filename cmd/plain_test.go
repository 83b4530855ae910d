package cmd

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
)

// Plans and answers refuse what the record refuses, but for line feeds and tabs.
func TestHidden_everywhere(t *testing.T) {
	for r := rune(0); r <= utf8.MaxRune; r++ {
		if r == '\n' || r == '\t' || r == utf8.RuneError || r >= 0xd800 && r < 0xe000 {
			continue
		}
		if refused := plan.PlainText(string(r)) != nil; refused != chain.Hidden(r) {
			t.Errorf("%U: plans refuse it %v, the record %v", r, refused, chain.Hidden(r))
		}
	}
}

// Whatever door a sign that does not show comes through, it is not stored, and it
// does not reach the terminal.
func TestHidden_doors(t *testing.T) {
	plan, err := os.ReadFile(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	t.Chdir(dir)
	program := func(typed string, args ...string) (int, string) {
		env, said := testDoor(dir)
		env.In = strings.NewReader(typed)
		status := run(context.Background(), args, env)
		for _, r := range said.String() {
			if chain.Hidden(r) && r != '\n' && r != '\t' {
				t.Errorf("%q prints %U", args, r)
			}
		}
		return status, said.String()
	}
	for name, text := range map[string][]byte{"plan.yaml": plan, "note.txt": []byte("text\n"), "title.yaml": bytes.Replace(plan, []byte("Transformer T2"), []byte("Transformer\u200b T2"), 1)} {
		if err := os.WriteFile(name, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if status, said := program("", "open", "plan.yaml"); status != exitDone {
		t.Fatal(said)
	}
	for _, sign := range []string{"\u202e", "\u200b", "\u2028", "\x1b[31m", "\r", "\a", "\U000e0041"} {
		bad := "a" + sign + "b"
		for _, args := range [][]string{
			{"open", bad + ".yaml"}, {"plan", "check", bad + ".yaml"}, {"handover", "pump-1", "-o", bad + ".xlsx"}, {"attach", "pump-1", bad + ".txt", "--caption", "c"},
			{"attach", "pump-1", "note.txt", "--caption", bad}, {"enter", "pump-1", "isolated", "isolated=yes", "--repeat", bad}, {"verify", bad + ".zip"}, {bad}, {"--" + bad},
			{"accept", "pump-1", "isolated", "--by", "ben", "--why", bad}, {"pack", "pump-1", "-o", bad + ".zip"}, {"--book", bad + ".db", "jobs"},
		} {
			if status, said := program("", args...); status != exitUsage {
				t.Errorf("%q: status %d, %s", args, status, said)
			}
		}
		program("w"+bad+"\n:note "+bad+"\n", "walk", "pump-1")
	}
	if status, said := program("", "open", "title.yaml"); status != exitFailed || !strings.Contains(said, "control characters are not read") {
		t.Errorf("status %d, %s", status, said)
	}
	if status, said := program("", "jobs", "--json"); status != exitDone || strings.Count(said, `"pump-`) != 1 {
		t.Errorf("status %d, %s", status, said)
	}
	book, err := records.OpenRead(context.Background(), filepath.Join(dir, "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if entries, err := book.Entries(context.Background(), "pump-1"); err != nil || len(entries) != 1 {
		t.Errorf("%d entries, %v", len(entries), err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// testDoor is an environment whose input never ends, and what is said in it.
func testDoor(dir string) (session.Env, *bytes.Buffer) {
	said := &bytes.Buffer{}
	return session.Env{In: zeros{}, Out: said, Err: said, Now: func() time.Time { return time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC) },
		Random: zeros{}, Book: filepath.Join(dir, "book.db"), Program: "handback test"}, said
}
