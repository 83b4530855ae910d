package cmd

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"handback/cmd/session"
	"handback/report/manual"
	"handback/testdata/outside"
)

// man finds nothing to warn of in the manual, and shows to the letter what the topics say.
func TestMan_groff(t *testing.T) {
	outside.Long(t)
	groff := outside.Tool(t, "groff", "--version")
	list, err := pages(newRoot(&session.Env{}))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range list {
		said, warned := formatted(t, p, groff, "-man", "-ww", "-Kutf8", "-Tutf8", "-P-bcou")
		if warned != "" {
			t.Errorf("%s(%d): %s", p.File(), p.Section, warned)
		}
		if p.Section != manual.Topics {
			continue
		}
		_, text, _ := strings.Cut(p.Text(), "\n\n")
		if text = strings.ReplaceAll("\n"+text, "\n  - ", "\n•"); !strings.Contains(letters(said), letters(text)) {
			t.Errorf("%s(%d) does not show what the topic says:\n%s", p.File(), p.Section, said)
		}
	}
}

// The other program that reads such pages finds no fault in them. The same commit gives the
// same pages on any day, so they have no date.
func TestMan_mandoc(t *testing.T) {
	outside.Long(t)
	mandoc := outside.Tool(t, "mandoc", "-Tlint", "-W", "unsupp", os.DevNull)
	list, err := pages(newRoot(&session.Env{}))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range list {
		found, _ := formatted(t, p, mandoc, "-Tlint", "-W", "warning")
		for _, line := range strings.Split(strings.TrimSpace(found), "\n") {
			if line != "" && !strings.Contains(line, "missing date") {
				t.Error(line)
			}
		}
	}
}

// formatted is what a program makes of a page.
func formatted(t *testing.T, p manual.Page, program string, args ...string) (said, warned string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), p.File())
	if err := os.WriteFile(file, []byte(p.Roff("handback 1", p)), 0o644); err != nil {
		t.Fatal(err)
	}
	var out, errs strings.Builder
	c := exec.Command(program, append(args, file)...)
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil && c.ProcessState == nil {
		t.Fatal(err)
	}
	return out.String(), errs.String()
}

// letters are the signs of a text without its blanks and quotes: what is typed is bold in
// man.
func letters(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '"' {
			return -1
		}
		return r
	}, text)
}
