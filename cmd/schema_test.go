package cmd

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/testdata/schemas"
)

// schemaOf is the schema of what a command prints with --json, by its command line.
func schemaOf(args []string) (document, error) {
	c, _, err := newRoot(&session.Env{}).Find(args)
	if err != nil {
		return document{}, err
	}
	return schemaNamed(schemaName(c))
}

// schemaName is what the schema of a command's answer is called.
func schemaName(c *cobra.Command) string {
	return cmp.Or(c.Annotations[answerSchema], strings.ReplaceAll(commandName(c), " ", "-"))
}

func schemaNamed(name string) (document, error) {
	for _, d := range documents() {
		if d.name == name {
			return d, nil
		}
	}
	return document{}, fmt.Errorf("%s --json has no schema", name)
}

// heldToSchema is Main, with every JSON answer held against the schema of its command.
func heldToSchema(args []string, env session.Env) int {
	if !slices.Contains(args, "--json") && !slices.Contains(args, "-j") {
		return Main(args, env)
	}
	var said bytes.Buffer
	env.Out = io.MultiWriter(env.Out, &said)
	status := Main(args, env)
	if said.Len() == 0 {
		return status
	}
	d, err := schemaOf(args)
	if status != exitDone && strings.HasPrefix(strings.ReplaceAll(said.String(), "\n", ""), `{  "v": 1,  "error": {`) {
		d, err = schemaNamed("error")
	}
	if err == nil {
		err = answerFits(d, said.Bytes())
	}
	if err != nil {
		fmt.Fprintf(env.Err, "%v: the answer does not fit its schema: %v\n", args, err)
		return 125
	}
	return status
}

func answerFits(d document, answer []byte) error {
	text, err := d.text()
	if err != nil {
		return err
	}
	for in := json.NewDecoder(bytes.NewReader(answer)); err == nil; { // one document, or several lines
		var one json.RawMessage
		if err = in.Decode(&one); err == nil {
			err = schemas.Fits(text, one)
		}
	}
	if err == io.EOF {
		err = nil
	}
	return err
}

// The schemas as they are printed are kept, so that a change of what others read is seen.
func TestSchemas_kept(t *testing.T) {
	dir := "../testdata/schemas"
	want := map[string]bool{}
	for _, d := range documents() {
		file := filepath.Join(dir, d.name+".json")
		want[filepath.Base(file)] = true
		got := play(t, "", "schema", d.name)
		if got.status != exitDone || got.err != "" {
			t.Fatalf("schema %s ends with %d: %s", d.name, got.status, got.err)
		}
		if *update {
			if err := os.WriteFile(file, []byte(got.out), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		kept, err := os.ReadFile(file)
		if err != nil || string(kept) != got.out {
			t.Errorf("%s is not what schema %s prints (%v): look at the difference, then write it with -update", file, d.name, err)
		}
		if !strings.Contains(got.out, `"$id": "urn:handback:schema:`+d.name+`:1"`) || !strings.Contains(got.out, `"additionalProperties": false`) {
			t.Errorf("schema %s has no $id of its own, or lets other members through", d.name)
		}
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if filepath.Ext(f.Name()) == ".json" && !want[f.Name()] {
			t.Errorf("%s is the schema of nothing", f.Name())
		}
	}
}

// Every command with --json has a schema of its name, every such schema a command, and
// each is used in a script, where its answers are held against it.
func TestSchemas_everyCommand(t *testing.T) {
	have, used := map[string]bool{}, map[string]bool{}
	for _, n := range answers {
		have[n.Name] = true
	}
	scripted := map[string]bool{}
	files, err := filepath.Glob(filepath.Join(scripts, "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	line := regexp.MustCompile(`(?m)^exits \d+ (?:handback|shipped) (.*--json.*)$`)
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range line.FindAllStringSubmatch(string(data), -1) {
			d, err := schemaOf(strings.Fields(m[1]))
			if err != nil {
				t.Errorf("%s: %s: %v", file, m[1], err)
			}
			scripted[d.name] = true
		}
	}
	eachCommand(t, func(path []string, c *cobra.Command) {
		if c.Flags().Lookup("json") == nil {
			return
		}
		name := schemaName(c)
		if used[name] = true; !have[name] || !scripted[name] {
			t.Errorf("%s --json: has a schema: %v, is in a script: %v", strings.Join(path, " "), have[name], scripted[name])
		}
	})
	used["error"] = true // of every command
	for name := range have {
		if used[name] {
			continue
		}
		t.Errorf("schema %s: no command of that name has --json", name)
	}
}

// A member that is not in the schema, or is missing, is found.
func TestSchemas_refuse(t *testing.T) {
	answer := play(t, "", "jobs", "--json")
	d, err := schemaOf([]string{"jobs", "--json"})
	if err != nil || answer.status != exitDone {
		t.Fatal(err, answer)
	}
	sound := `[{"id":"a-1","identifier":"f","title":"t","opened":"2026-05-12T09:00:00Z","entries":1,"head_hash":"h","last":"2026-05-12T09:00:00Z","plan_hash":"p"}]`
	if err := answerFits(d, []byte(sound)); err != nil {
		t.Errorf("%s: %v", sound, err)
	}
	for _, wrong := range []string{strings.Replace(sound, `"entries":1`, `"entries":1,"more":2`, 1), strings.Replace(sound, `,"entries":1`, "", 1),
		strings.Replace(sound, `:1,`, `:"1",`, 1), strings.Replace(sound, "2026-05-12T", "12.05.2026 ", 1), `null`} {
		if answerFits(d, []byte(wrong)) == nil {
			t.Errorf("%s is let through", wrong)
		}
	}
}

// withoutJSON are the commands that answer people alone, each with its reason.
var withoutJSON = map[string]string{
	"archive serve": "shows pages to a browser until it is stopped",
	"completion":    "prints a script that a shell reads",
	"help":          "tells people what the program is; schema tells programs",
}

// Every command answers in JSON too, but for those that say why not, and those that only
// tell which commands there are below them.
func TestJSON_everyCommand(t *testing.T) {
	left := maps.Clone(withoutJSON)
	eachCommand(t, func(path []string, c *cobra.Command) {
		name := strings.Join(path, " ")
		has, why := c.Flags().Lookup("json") != nil, left[name]
		delete(left, name)
		if has == (why != "" || c.HasSubCommands()) {
			t.Errorf("%s has --json: %v; the reason not to: %q", name, has, why)
		}
	})
	if len(left) > 0 {
		t.Errorf("no commands: %v", left)
	}
}
