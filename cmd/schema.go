package cmd

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/archive"
	"handback/report/export"
	"handback/report/schema"
)

// answers are the schemas of what commands print with --json. A schema has the name of
// its command, with - between its words.
var answers = []schema.Named{
	{Name: "archive-add", About: "what became of a bag, a line each", Answers: []any{addedBag{}}},
	{Name: "archive-doctor", About: "what examining an archive showed", Answers: []any{archiveHealth{}}},
	{Name: "archive-due", About: "what jobs of an archive left open", Answers: []any{[]dueLine{}}},
	{Name: "archive-find", About: "jobs found in an archive", Answers: []any{[]archive.State{}}},
	{Name: "archive-head", About: "the signed head of an archive's log", Answers: []any{signedHead{}}},
	{Name: "archive-keep", About: "until when jobs of an archive must be kept", Answers: []any{[]archive.Keep{}, []keptJob{}}},
	{Name: "archive-policy", About: "what an archive asks of a bag before it is taken", Answers: []any{policyReport{}}},
	{Name: "archive-prove", About: "what a proof of an archive's log shows", Answers: []any{checkedProof{}}},
	{Name: "archive-recall", About: "what rests on an instrument, judged again with its error", Answers: []any{recallAnswer{}}},
	{Name: "archive-show", About: "what an archive holds of a job, or bags that were refused", Answers: []any{[]archivedJob{}, []refusedBag{}}},
	{Name: "archive-trend", About: "how a value went over the years, or what may be asked of", Answers: []any{trendAnswer{}}},
	{Name: "doctor", About: "what examining the record book showed", Answers: []any{doctorReport{}}},
	{Name: "error", About: "what went wrong, where a command with --json has no other answer", Answers: []any{failure{}}},
	{Name: "export", About: "everything of a job as data", Answers: []any{export.Document{}}},
	{Name: "flags", About: "what in a job needs a look, or what an instrument read in it", Answers: []any{flagsReport{}, usesReport{}}},
	{Name: "form-fields", About: "what a template of a letter may place", Answers: []any{fieldsAnswer{}}},
	{Name: "instruments", About: "where each instrument was used", Answers: []any{[]instrumentReport{}}},
	{Name: "jobs", About: "the jobs of the record book", Answers: []any{[]records.Job{}}},
	{Name: "key-show", About: "a key for the plan", Answers: []any{keyReport{}}},
	{Name: "kinds", About: "the kinds of checks, or one of them", Answers: []any{[]kindReport{}, kindReport{}}},
	{Name: "plan-check", About: "what is wrong with a plan and what to expect", Answers: []any{planReport{}}},
	{Name: "plan-diff", About: "what one plan means otherwise than another", Answers: []any{planDiff{}}},
	{Name: "read", About: "what a file of answers was understood as", Answers: []any{readDocument{}}},
	{Name: "review", About: "what in a job an engineer has to look at", Answers: []any{reviewReport{}}},
	{Name: "schema", About: "the schemas there are, or one of them", Answers: []any{[]schemaReport{}, schemaReport{}}},
	{Name: "status", About: "how a job stands", Answers: []any{statusReport{}}},
	{Name: "try", About: "the finding of one check without a job", Answers: []any{findingReport{}}},
	{Name: "verify", About: "what verifying a job, a bag or a workbook showed", Answers: []any{verifyReport{}}},
	{Name: "version", About: "what this program is", Answers: []any{versionReport{}}},
	{Name: "walk", About: "what was recorded in a walk, and how it ended", Answers: []any{walkReport{}}},
	{Name: "written", About: "what a command did that adds to a record or makes files: " + strings.Join(writers, ", "), Answers: []any{writtenReport{}}},
}

// document is a schema that is printed.
type document struct {
	name, about string
	text        func() ([]byte, error)
}

// documents are all schemas, by name.
func documents() []document {
	out := []document{{"plan", "a plan, for editors that complete and check YAML", planSchema}, {"entry", "the body of an entry of the record", schema.Entry}}
	for _, n := range schema.Record {
		out = append(out, document{n.Name, n.About, n.Text})
	}
	for _, n := range answers {
		out = append(out, document{n.Name, n.About, n.AnswerText})
	}
	slices.SortFunc(out, func(a, b document) int { return strings.Compare(a.name, b.name) })
	return out
}

func planSchema() ([]byte, error) { return plan.Schema(schema.ID("plan")) }

type schemaOptions struct {
	env       *session.Env
	name, out string
	force     bool
	json      bool
}

// schemaReport is a schema by its name, with what it describes or where that was written.
type schemaReport struct {
	Name   string          `json:"name"`
	About  string          `json:"about"`
	File   string          `json:"file,omitempty"`
	Schema json.RawMessage `json:"schema,omitempty"`
}

func newSchema(env *session.Env) *cobra.Command {
	o := &schemaOptions{env: env}
	var names []string
	for _, d := range documents() {
		names = append(names, d.name)
	}
	c := &cobra.Command{
		Use: "schema [NAME]", Short: "print the JSON Schema of plans, of what is kept and of what --json prints", ValidArgs: names,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return session.Usagef("schema takes one NAME or none, %d were given", len(args))
			}
			return nil
		},
		Long: `Print a JSON Schema (draft 2020-12), or list them: of plan files, for editors that
complete and check YAML; of entries, statements and handover data; and of what each
command prints with --json, by the name of the command; error is what it prints when it
has no answer. A schema carries its version in its $id: it stays when a member is added,
and rises when one goes or means another thing. An answer that is an object says it in v.`,
		Example: "  handback schema\n  handback schema plan -o plan.schema.json\n  handback schema status",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				o.name = args[0]
			}
			return runSchema(o)
		},
	}
	outputFlag(c, &o.out, &o.force)
	jsonFlag(c, &o.json)
	return c
}

func runSchema(o *schemaOptions) error {
	list := documents()
	if o.name == "" {
		if o.out != "" {
			return session.Usagef("-o goes with a NAME")
		}
		if o.json {
			var all []schemaReport
			for _, d := range list {
				all = append(all, schemaReport{Name: d.name, About: d.about})
			}
			return printJSON(o.env.Out, all)
		}
		tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
		for _, d := range list {
			fmt.Fprintf(tw, "%s\t%s\n", d.name, d.about)
		}
		return tw.Flush()
	}
	i := slices.IndexFunc(list, func(d document) bool { return d.name == o.name })
	if i < 0 {
		var names []string
		for _, d := range list {
			names = append(names, d.name)
		}
		return session.Apart(session.Usagef("no schema %q%s; type: %s", o.name, session.Meant(o.name, names), o.env.Hint("schema")), session.Parts{Where: "NAME", Met: o.name, Accepted: names})
	}
	text, err := list[i].text()
	if err != nil {
		return err
	}
	if !o.json || o.out != "" && o.out != "-" {
		if err := print(o.env, text, o.out, o.force); err != nil || !o.json {
			return err
		}
		return printJSON(o.env.Out, schemaReport{Name: o.name, About: list[i].about, File: o.out})
	}
	return printJSON(o.env.Out, schemaReport{Name: o.name, About: list[i].about, Schema: text})
}
