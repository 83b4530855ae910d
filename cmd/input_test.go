package cmd

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Text as editors and shells of Windows write it; the bytes of UTF-16 by hand from the
// Unicode Standard, 3.9 (D91) and 23.8: T is 0054, ° is 00B0, 𝄞 is D834 DD1E.
func TestInUTF8(t *testing.T) {
	for text, want := range map[string]string{
		"T°\n":                      "T°\n",
		"\xef\xbb\xbfT°":            "T°",
		"\xff\xfeT\x00\xb0\x00":     "T°",
		"\xfe\xff\x00T\x00\xb0":     "T°",
		"\xff\xfe\x34\xd8\x1e\xdd":  "𝄞",
		"\xff\xfe\x34\xd8T\x00\x54": "\ufffdT", // half a pair, and half a unit
		"T\xf8":                     "T\xf8",   // code page 850: no mark tells of it
		"":                          "",
	} {
		if got := string(inUTF8([]byte(text))); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// Readings out of a shell that writes UTF-16 with carriage returns are those typed.
func TestEnter_utf16(t *testing.T) {
	plan, err := os.ReadFile(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	wide := "\xff\xfe"
	for _, c := range "tester = tester\r\nsource = unit\r\n" {
		wide += string([]byte{byte(c), 0})
	}
	for name, text := range map[string]string{"small.yaml": string(plan), "wide.txt": wide, "850.txt": "tester = t\x82ster\r\n"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	env, said := testDoor(".")
	if status := run(context.Background(), []string{"open", "small.yaml"}, env); status != exitDone {
		t.Fatal(said)
	}
	for line, want := range map[string]string{
		"enter pump-1 dead --file wide.txt": "stored: proving source: unit",
		"enter pump-1 dead --file 850.txt":  "letters that are not written in UTF-8 are not read",
	} {
		said.Reset()
		run(context.Background(), strings.Fields(line), env)
		if !strings.Contains(said.String(), want) {
			t.Errorf("%s: %s, want %q", line, said, want)
		}
	}
}
