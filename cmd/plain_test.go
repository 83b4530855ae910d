package cmd

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
)

// What does not show is written out, in whatever pieces it comes, and what shows is
// left as it is.
func TestPlainWriter(t *testing.T) {
	for text, want := range map[string]string{
		"11 kV ± 5 %, Ω, µ\n\tnext\n": "11 kV ± 5 %, Ω, µ\n\tnext\n", "": "", "a\x1b[31mred": `a\u001b[31mred`, "a\rb\a": `a\u000db\u0007`,
		"\u202eYDAER": `\u202eYDAER`, "a\u200bb\u2028c\u00ad\u0085": `a\u200bb\u2028c\u00ad\u0085`, "\U000e0041": `\udb40\udc41`, "caf\xe9.zip": `caf\xe9.zip`,
		"می\u200cخواهم": "می\u200cخواهم", "cut \xe2\x82": `cut \xe2\x82`, "\xff\xfe": `\xff\xfe`, "\ufffd": "\ufffd", "\ufeffx": `\ufeffx`,
	} {
		for size := 1; size <= max(1, len(text)); size++ {
			var out bytes.Buffer
			w := &plainWriter{to: &out}
			for rest := []byte(text); len(rest) > 0; rest = rest[min(size, len(rest)):] {
				if n, err := w.Write(rest[:min(size, len(rest))]); err != nil || n != min(size, len(rest)) {
					t.Fatal(n, err)
				}
			}
			if err := w.flush(); err != nil || out.String() != want {
				t.Errorf("%q in pieces of %d: %q, %v; want %q", text, size, out.String(), err, want)
			}
		}
	}
}

// Nothing comes out that could move a cursor or turn a line round; JSON keeps its
// meaning.
func FuzzPlainWriter(f *testing.F) {
	f.Add([]byte("\x1b]0;t\a\u202ex\U000e0041\xe2\x82"), 3)
	f.Fuzz(func(t *testing.T, text []byte, cut int) {
		var out bytes.Buffer
		w := &plainWriter{to: &out}
		cut = min(max(cut, 0), len(text))
		w.Write(text[:cut])
		w.Write(text[cut:])
		w.flush()
		if !utf8.Valid(out.Bytes()) {
			t.Errorf("%q: not UTF-8", out.Bytes())
		}
		for _, r := range out.String() {
			if chain.Hidden(r) && r != '\n' && r != '\t' {
				t.Errorf("%q lets %U through", text, r)
			}
		}
		if doc, err := json.Marshal(string(text)); err == nil {
			var back string
			if err := json.Unmarshal(shown(doc), &back); err != nil || back != strings.ToValidUTF8(string(text), "\ufffd") && utf8.Valid(text) {
				t.Errorf("%q comes back from JSON as %q, %v", text, back, err)
			}
		}
	})
}

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
			{"concede", "pump-1", "isolated", "--engineer", "ben", "--reason", bad}, {"archive", "pack", "pump-1", "-o", bad + ".zip"}, {"--book", bad + ".db", "jobs"},
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
func testDoor(dir string) (Env, *bytes.Buffer) {
	said := &bytes.Buffer{}
	return Env{In: zeros{}, Out: said, Err: said, Now: func() time.Time { return time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC) },
		Random: zeros{}, Book: filepath.Join(dir, "book.db"), Program: "handback test"}, said
}
