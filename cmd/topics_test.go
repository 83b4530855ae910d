package cmd

import (
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report/manual"
	"handback/templates"
	"handback/testdata/outside"
)

const helpFolder = "../templates/help"

// Every topic is followed as a reader would who has played the demo and opened the plan of
// the topic about plans. -update puts shown lines right.
func TestTopics(t *testing.T) {
	outside.Long(t)
	folder, err := filepath.Abs(helpFolder)
	if err != nil {
		t.Fatal(err)
	}
	list := templates.Topics()
	if len(list) == 0 {
		t.Fatal("no topics")
	}
	for _, name := range list {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.Rename(played(t, theDemo), filepath.Join(dir, "demo-job")); err != nil {
				t.Fatal(err)
			}
			t.Chdir(dir)
			r := newReader(dir)
			if name != "plan" {
				r.follow(t, filepath.Join(folder, "plan.md"))
			}
			r.follow(t, filepath.Join(folder, name+".md"))
			namesExist(t, filepath.Join(folder, name+".md"), filepath.Join(folder, root, root), dir)
		})
	}
}

// plans holds a block that may stand in a plan against the one of the topic about plans,
// in which it takes the place of what that says under the same keys.
func plans(t *testing.T, f fence, block []string) {
	t.Helper()
	data, err := os.ReadFile("plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	whole, part := map[string]any{}, map[string]any{}
	for into, text := range map[*map[string]any]string{&whole: string(data), &part: strings.Join(block, "\n")} {
		if err := yaml.Unmarshal([]byte(text), into); err != nil {
			t.Fatalf("line %d: %v", f.from, err)
		}
	}
	if len(part) == 0 {
		t.Errorf("line %d: the block holds no key of a plan", f.from)
	}
	maps.Copy(whole, part)
	if data, err = yaml.Marshal(whole); err != nil {
		t.Fatal(err)
	}
	p, err := plan.Load("plan.yaml", data)
	if err != nil {
		t.Fatalf("line %d: %v", f.from, err)
	}
	if len(p.Objections()) > 0 {
		t.Errorf("line %d: %v", f.from, p.Objections())
	}
}

// Every topic is told, fits a terminal of 80 columns, and has in man what it has there.
func TestTopics_told(t *testing.T) {
	root := newRoot(&session.Env{})
	for _, name := range topics() {
		got := play(t, "", "help", name)
		if got.status != exitDone || got.err != "" || !strings.HasPrefix(got.out, name+": ") {
			t.Errorf("help %s ends with %d: %s%.100s", name, got.status, got.err, got.out)
		}
		for i, line := range strings.Split(got.out, "\n") {
			if utf8.RuneCountInString(line) > manual.Width || strings.ContainsAny(line, "`\t") {
				t.Errorf("help %s, line %d is wider than %d, or holds what is not shown: %s", name, i+1, manual.Width, line)
			}
		}
		page, err := topic(root, name)
		if err != nil || page.Name != name || len(page.Blocks) < 5 {
			t.Errorf("topic %s is %s with %d blocks: %v", name, page.Name, len(page.Blocks), err)
		}
	}
}

// The reference of plans tells every key that a kind is given, whether it is needed, and
// the limit that counts where a plan gives none.
func TestHelp_reference(t *testing.T) {
	page, err := referencePage(nil)
	if err != nil {
		t.Fatal(err)
	}
	under, told := "", map[string]string{}
	for _, b := range page.Blocks {
		switch b.Sort {
		case manual.Heading:
			under = b.Text
		case manual.Point:
			told[under+" "+b.Mark] = b.Text
		}
	}
	for _, kind := range plan.KindNames() {
		for _, p := range checks.KindNamed(kind).Parameters() {
			got := told["given: "+kind+" "+p.Name]
			if !strings.Contains(got, p.Doc) || !strings.Contains(got, p.Bounds) || strings.HasPrefix(got, "needed: ") != p.Need {
				t.Errorf("%s of %s is %+v, the reference says %q", p.Name, kind, p, got)
			}
		}
	}
	for _, key := range []string{"a plan title", "plant.transformers.taps position", "instruments.ranges resolution", "steps: a hold point needs", "network.devices id"} {
		if told[key] == "" {
			t.Errorf("the reference does not tell %s", key)
		}
	}
}

// Every command stands in one group, and every group tells topics that there are.
func TestHelp_groups(t *testing.T) {
	root := newRoot(&session.Env{})
	root.InitDefaultHelpCmd()
	seen := map[string]bool{}
	for _, c := range root.Commands() {
		seen[c.Name()] = true
		if c.GroupID == "" {
			t.Errorf("command %s is in no group: cmd/help.go", c.Name())
		}
	}
	for _, g := range groups {
		for _, name := range g.commands {
			if !seen[name] {
				t.Errorf("group %s names the command %s, there is none", g.id, name)
			}
			seen[name] = false
		}
		for _, name := range g.topics {
			if _, err := topic(root, name); err != nil {
				t.Errorf("group %s: %v", g.id, err)
			}
		}
	}
}
