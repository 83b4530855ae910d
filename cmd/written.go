package cmd

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
)

// writers are the commands that add to a record or make files, and answer with one sort of
// document. read and walk have one of their own.
var writers = []string{"open", "enter", "done", "left", "undone", "found", "found-bad", "defect", "amend", "correct", "accept", "answer", "join", "attach",
	"sheet", "handover", "pack", "take", "sign", "statement", "stamp", "backup", "restore", "key new", "archive new", "archive get", "archive redact", "archive export",
	"plan new", "plan steps", "plan baseline", "form labels", "man", "demo"}

// answerSchema is the annotation of a command whose schema has not its own name.
const answerSchema = "schema"

// writtenReport is what a command that writes has done.
type writtenReport struct {
	Job     string         `json:"job,omitempty" title:"what the entries were added to"`
	DryRun  bool           `json:"dry_run" title:"nothing was stored: the entries are those that would be"`
	Entries []writtenEntry `json:"entries" title:"added to the record, in their order"`
	Files   []string       `json:"files" title:"made, by the names that were given"`
	Said    []string       `json:"said" title:"the lines that are printed without --json"`
}

// writtenEntry is an entry that was added. Its data is described by the schema of entries.
type writtenEntry struct {
	chain.Head
	Hash string          `json:"hash"`
	Data json.RawMessage `json:"data"`
}

// answersInJSON adds --json to a command that writes: what it has done, in the place of what
// it says on stdout.
func answersInJSON(env *session.Env, c *cobra.Command) {
	for _, sub := range c.Commands() {
		answersInJSON(env, sub)
	}
	if !slices.Contains(writers, commandName(c)) {
		return
	}
	var on bool
	jsonFlag(c, &on)
	c.Annotations = map[string]string{answerSchema: "written"}
	run := c.RunE
	c.RunE = func(c *cobra.Command, args []string) error {
		if !on {
			return run(c, args)
		}
		out, said := env.Out, bytes.Buffer{}
		env.Out, env.Done = &said, &session.Done{}
		err := run(c, args)
		env.Out = out
		if err != nil && !errors.Is(err, errNotReady) { // which is an answer
			return err
		}
		dry, _ := c.Flags().GetBool("dry-run") // an error is that the command has none
		return cmp.Or(printJSON(out, newWritten(env.Done, dry, said.String())), err)
	}
}

func newWritten(d *session.Done, dry bool, said string) writtenReport {
	w := writtenReport{Job: d.Job, DryRun: dry, Files: d.Files}
	for _, e := range d.Entries {
		w.Entries = append(w.Entries, writtenEntry{e.Head, e.Hash, e.Data})
	}
	if said != "" {
		w.Said = strings.Split(strings.TrimSuffix(said, "\n"), "\n")
	}
	return w
}
