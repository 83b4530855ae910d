package bag

import (
	"bytes"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"handback/records/chain"
)

func TestParseManifest(t *testing.T) {
	h := chain.HashFile(nil)
	good := h + "  data/a\n" + h + "  data/b\n"
	if m, err := parseManifest([]byte(good), 32); err != nil || len(m) != 2 || string(m.encode()) != good {
		t.Errorf("%v, %v", m, err)
	}
	for text, want := range map[string]string{
		h + "  data/a\r\n": "line 1: it ends with a carriage return", h + "  data/a": "line 1: it does not end with a line feed", h + " *data/a\n": "two blanks", h + " data/a\n": "two blanks",
		h[:63] + "  data/a\n": "two blanks", strings.ToUpper(h) + "  data/a\n": "lower-case", good + h + "  data/b\n": "line 3: data/b is listed twice", h + "  b\n" + h + "  a\n": "line 2: a is listed twice or out of order",
		"\n": "64 hex digits", good + "\n": "line 3", "\ufeff" + good: "two blanks", "# " + good: "line 1", h + "  \n": "64 hex digits", h + "   data/a\n": "are accepted",
	} {
		if _, err := parseManifest([]byte(text), 32); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q", text, err, want)
		}
	}
}

// What is read as a manifest is written again as it was.
func FuzzManifest(f *testing.F) {
	h := chain.HashFile(nil)
	for _, seed := range []string{"", h + "  data/a\n", h + "  data/a\n" + h + "  data/b\n", h + "  data/a\r\n", h + "  ../a\n", h + "  data/%0A\n", "\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := parseManifest(text, 32)
		if err != nil {
			if m != nil {
				t.Error("a manifest beside an error")
			}
			return
		}
		if again := m.encode(); !bytes.Equal(again, text) {
			t.Errorf("read %q, written %q", text, again)
		}
		for name := range m {
			if !fs.ValidPath(name) || !filepath.IsLocal(name) || strings.ContainsAny(name, "\\:%\r\n") {
				t.Errorf("name %q", name)
			}
		}
	})
}
