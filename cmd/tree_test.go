package cmd

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report/manual"
	"handback/templates"
	"handback/testdata/starters"
)

// ran is what one command line gave.
type ran struct {
	status   int
	out, err string
}

// play runs one command line at a fixed time, with no book.
func play(t *testing.T, stdin string, args ...string) ran {
	t.Helper()
	var out, talk bytes.Buffer
	env := session.Env{In: strings.NewReader(stdin), Out: &out, Err: &talk, Random: strings.NewReader(""),
		Now: func() time.Time { return time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC) }, Book: filepath.Join(t.TempDir(), "book.db")}
	status := heldToSchema(args, env)
	return ran{status, out.String(), talk.String()}
}

// eachCommand calls f for every command that handback itself has.
func eachCommand(t *testing.T, f func(path []string, c *cobra.Command)) {
	t.Helper()
	seen := 0
	var walk func(path []string, c *cobra.Command)
	walk = func(path []string, c *cobra.Command) {
		seen++
		f(path, c)
		for _, sub := range c.Commands() {
			walk(append(path[:len(path):len(path)], sub.Name()), sub)
		}
	}
	walk(nil, newRoot(&session.Env{}))
	if seen < 15 {
		t.Fatalf("only %d commands", seen)
	}
}

// Every command shows an example that calls it, in its help.
func TestHelp(t *testing.T) {
	eachCommand(t, func(path []string, c *cobra.Command) {
		name := strings.Join(append([]string{"handback"}, path...), " ")
		got := play(t, "", append(path, "--help")...)
		if got.status != exitDone || got.err != "" {
			t.Errorf("%s --help ends with %d: %s", name, got.status, got.err)
		}
		_, examples, ok := strings.Cut(got.out, "Examples:\n")
		if !ok || !regexp.MustCompile(`(?m)^  `+name).MatchString(examples) {
			t.Errorf("%s --help shows no example that calls it:\n%s", name, got.out)
		}
		if bare := regexp.MustCompile(`(?m)^ +(-., )?--[a-z-]+ [a-z]+[A-Za-z]*  .*`).FindString(got.out); bare != "" {
			t.Errorf("%s --help names a value by its type, or not in capitals: %s", name, bare)
		}
		words, _, _ := strings.Cut(got.out, "\nUsage:\n")
		for _, line := range strings.Split(words, "\n") {
			if !strings.HasPrefix(line, "  ") && utf8.RuneCountInString(line) > manual.Width {
				t.Errorf("%s --help is wider than %d: %s", name, manual.Width, line)
			}
		}
		if c.Short == "" || strings.HasSuffix(c.Short, ".") {
			t.Errorf("%s is described as %q", name, c.Short)
		}
	})
}

// A flag's value is seen in the shell's history and in lists of processes: no
// secret is given by one.
func TestFlags_noSecrets(t *testing.T) {
	secret := regexp.MustCompile(`(?i)pass(word|phrase)|secret|token|private|\bpin\b`)
	seen := 0
	eachCommand(t, func(path []string, c *cobra.Command) {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			seen++
			if secret.MatchString(f.Name) || secret.MatchString(f.Usage) {
				t.Errorf("%v: flag --%s %s", path, f.Name, f.Usage)
			}
			if f.Usage == "" {
				t.Errorf("%v: flag --%s says nothing", path, f.Name)
			}
		})
	})
	if seen < 20 {
		t.Fatalf("only %d flags", seen)
	}
}

// finding is what try --json promises to whoever reads it.
type finding struct {
	Kind, Check, Verdict string
	Reasons              []struct{ Verdict, Code, Words string }
	Doubts               []string
	Derived              []struct {
		Key, Name, Unit    string
		Value, Uncertainty *float64
		Limit              *struct {
			Low, High *float64
			Source    string
		}
		Verdict string
		Working []string
	}
	Cautions []string
}

// The example of every kind, as kinds prints it, passes when try reads it.
func TestKinds_examples(t *testing.T) {
	names := plan.KindNames()
	if len(names) == 0 {
		t.Fatal("no kinds")
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			if told := play(t, "", "kinds", name); told.status != exitDone || !strings.Contains(told.out, "limits come from:") {
				t.Errorf("kinds %s ends with %d: %s%s", name, told.status, told.out, told.err)
			}
			example := play(t, "", "kinds", name, "--example")
			if example.status != exitDone || example.err != "" {
				t.Fatalf("kinds --example ends with %d: %s", example.status, example.err)
			}
			got := play(t, example.out, "try", name, "-", "--json")
			if got.status != exitDone || got.err != "" {
				t.Fatalf("try ends with %d: %s%s", got.status, got.out, got.err)
			}
			var f finding
			if err := json.Unmarshal([]byte(got.out), &f); err != nil {
				t.Fatal(err)
			}
			f.examine(t, name)
			if plain := play(t, example.out, "try", name, "-"); plain.status != exitDone || !strings.Contains(plain.out, "PASS") {
				t.Errorf("try without --json ends with %d: %s", plain.status, plain.out)
			}
		})
	}
}

func (f finding) examine(t *testing.T, kind string) {
	t.Helper()
	if f.Kind != kind || f.Verdict != "pass" || len(f.Reasons) == 0 || f.Doubts == nil || f.Derived == nil || len(f.Cautions) == 0 {
		t.Errorf("document %+v", f)
	}
	for _, r := range f.Reasons {
		if r.Verdict != "pass" || r.Words == "" || r.Code == "" {
			t.Errorf("reason %+v in a pass", r)
		}
	}
	for _, d := range f.Derived {
		if d.Key == "" || d.Name == "" || len(d.Working) == 0 { // a ratio has no unit
			t.Errorf("derived %+v", d)
		}
		if d.Limit != nil && (d.Value == nil || d.Limit.Source == "" || d.Limit.Low == nil && d.Limit.High == nil || d.Verdict != "pass") {
			t.Errorf("judged %+v", d)
		}
	}
}

// Every starter plan is refused as it is written out, and sound once it is filled in.
func TestStarterPlansCheck(t *testing.T) {
	works := templates.Plans()
	if len(works) == 0 {
		t.Fatal("no starter plans")
	}
	dry := 0
	for _, work := range works {
		written := play(t, "", "plan", "new", work)
		if written.status != exitDone || written.err != "" || !strings.HasPrefix(written.out, "#") {
			t.Fatalf("plan new %s ends with %d: %s", work, written.status, written.err)
		}
		file := filepath.Join(t.TempDir(), work+".yaml")
		if err := os.WriteFile(file, []byte(written.out), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, command := range [][]string{{"plan", "check", file}, {"open", file, "--by", "tech"}} {
			if got := play(t, "", command...); got.status != exitFailed || got.out != "" || !strings.Contains(got.err, "lines are still marked REPLACE: ") {
				t.Errorf("%s of the untouched %s ends with %d: %s%s", command[0], work, got.status, got.out, got.err)
			}
		}
		if err := os.WriteFile(file, starters.FilledIn([]byte(written.out)), 0o644); err != nil {
			t.Fatal(err)
		}
		got := play(t, "", "plan", "check", file)
		if got.status != exitDone || got.err != "" || !strings.Contains(got.out, "HOLD ") {
			t.Errorf("plan check of %s ends with %d: %s%s", work, got.status, got.out, got.err)
		}
		if strings.Contains(written.out, "\nnetwork:") {
			dry++
			if !strings.Contains(got.out, "on the network: none refused, nothing left over") {
				t.Errorf("the dry run of %s is not clean: %s", work, got.out)
			}
		}
		if help := play(t, "", "plan", "new", "--help"); !strings.Contains(help.out, work) {
			t.Errorf("plan new --help does not name %s", work)
		}
	}
	if dry == 0 {
		t.Error("no starter plan has a network")
	}
}

// The shell is told how to complete the value of every option, and no rule is left over for
// an option that is not there.
func TestFlags_completed(t *testing.T) {
	left := map[string]bool{}
	for _, name := range append(append([]string{"open by"}, fileFlags...), wordFlags...) {
		left[name] = true
	}
	for name := range fixedFlags() {
		left[name] = true
	}
	for name := range jobFlags {
		left[name] = true
	}
	all := len(left)
	eachCommand(t, func(path []string, c *cobra.Command) {
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if f.Value.Type() == "bool" {
				return
			}
			for _, name := range flagNames(c, f) {
				if _, known := left[name]; known {
					left[name] = false
					return
				}
			}
			t.Errorf("%v: nothing tells how --%s is completed", path, f.Name)
		})
	})
	unused := 0
	for name, is := range left {
		if is {
			unused++
			t.Errorf("%q is no option", name)
		}
	}
	if all-unused < 50 {
		t.Errorf("only %d rules are used", all-unused)
	}
}
