package cmd

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/manual"
	"handback/templates"
)

type group struct {
	id, title        string
	commands, topics []string
}

// groups are the commands by when they are used, in the order in which help lists them,
// each with the topics that tell more.
var groups = []group{
	{"before", "Before the work:", []string{"plan", "schema", "kinds", "try", "open"}, []string{"plan", "reference", "limits"}},
	{"site", "On site:", []string{"walk", "enter", "done", "left", "undone", "found", "found-bad", "defect", "correct", "amend", "status", "sheet", "read", "attach"}, []string{"walk", "steps"}},
	{"after", "After the work:", []string{"flags", "review", "answer", "accept", "sign", "statement", "stamp", "key", "handover", "form", "export", "verify"}, []string{"signing", "formats"}},
	{"archive", "To and from others, and in the archive:", []string{"pack", "take", "join", "archive"}, []string{"archive", "formats"}},
	{"book", "The record book of this device:", []string{"jobs", "instruments", "doctor", "backup", "restore"}, []string{"backup"}},
	{"program", "This program:", []string{"demo", "help", "completion", "man", "version"}, []string{"words", "json"}},
}

// usage is what help says of a command below its own words.
const usage = `Usage:{{if and .Runnable .HasParent (not .HasAvailableSubCommands)}}
  {{.UseLine}}{{else}}
  {{.CommandPath}} COMMAND{{end}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{$all := .Commands}}{{range $group := .Groups}}

{{.Title}}{{range $all}}{{if eq .GroupID $group.ID}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{if and .HasAvailableSubCommands (not .Groups)}}

Commands:{{range $all}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{flagUsages .LocalFlags | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Flags of every command:
{{flagUsages .InheritedFlags | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

More of one command: {{.CommandPath}} COMMAND --help{{end}}
`

// grouped puts commands into their groups and gives help its words.
func grouped(root *cobra.Command) {
	for _, g := range groups {
		root.AddGroup(&cobra.Group{ID: g.id, Title: g.title})
		for _, c := range root.Commands() {
			if slices.Contains(g.commands, c.Name()) {
				c.GroupID = g.id
			}
		}
	}
	root.SetUsageTemplate(usage)
	root.SetHelpFunc(func(c *cobra.Command, _ []string) {
		fmt.Fprint(c.OutOrStdout(), manual.Text(described(cmp.Or(c.Long, c.Short)))+"\n"+c.UsageString()+"\n"+readOn(c))
	})
}

// readOn names the topics that tell more of a command.
func readOn(c *cobra.Command) string {
	if !c.HasParent() {
		return "Topics, each told by handback help TOPIC:\n" + topicList()
	}
	for c.Parent().HasParent() {
		c = c.Parent()
	}
	i := slices.IndexFunc(groups, func(g group) bool { return slices.Contains(g.commands, c.Name()) })
	if i < 0 {
		return ""
	}
	more := "Topics that tell more: `handback help " + strings.Join(groups[i].topics, "`, `handback help ") + "`"
	return manual.Text([]manual.Block{{Sort: manual.Paragraph, Text: more}})
}

func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use: "help [TOPIC or COMMAND]", Short: "tell about a topic, or about a command", Args: cobra.ArbitraryArgs,
		Long: `Tell about a topic, or about a command as COMMAND --help does. Where a topic and a
command have one name, such as plan, it is the topic that is told.`,
		Example: "  handback help\n  handback help limits\n  handback help plan check",
		ValidArgsFunction: func(_ *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
			if len(args) > 0 {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return topics(), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(c *cobra.Command, args []string) error { return runHelp(root, args) },
	}
}

func runHelp(root *cobra.Command, args []string) error {
	if len(args) == 1 && slices.Contains(topics(), args[0]) {
		page, err := topic(root, args[0])
		if err == nil {
			_, err = fmt.Fprint(root.OutOrStdout(), page.Text())
		}
		return err
	}
	c, rest, err := root.Find(args)
	if err != nil || len(rest) > 0 {
		return session.Usagef("no topic or command %q%s; type: handback help", strings.Join(args, " "), nearTopic(root, args))
	}
	return c.Help()
}

// nearTopic suggests what may have been meant.
func nearTopic(root *cobra.Command, args []string) string {
	all := &cobra.Command{}
	for _, name := range topics() {
		all.AddCommand(&cobra.Command{Use: name, Run: func(*cobra.Command, []string) {}})
	}
	for _, c := range root.Commands() {
		if !slices.Contains(topics(), c.Name()) {
			all.AddCommand(&cobra.Command{Use: c.Name(), Run: func(*cobra.Command, []string) {}})
		}
	}
	return suggestion(all, args[0])
}

// made are the topics that are made from what the program knows.
var made = map[string]func(root *cobra.Command) (manual.Page, error){"commands": commandsPage, "reference": referencePage}

// topics are the names of all help topics.
func topics() []string {
	out := templates.Topics()
	for name := range made {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// topic is the page of a help topic.
func topic(root *cobra.Command, name string) (manual.Page, error) {
	if page := made[name]; page != nil {
		return page(root)
	}
	text, err := templates.Topic(name)
	if err != nil {
		return manual.Page{}, err
	}
	return manual.Topic(text)
}

// topicList tells each topic in a line.
func topicList() string {
	var out strings.Builder
	for _, name := range topics() {
		page, err := topic(&cobra.Command{}, name)
		if err != nil {
			panic("cmd: " + err.Error()) // a test reads them all
		}
		fmt.Fprintf(&out, "  %-11s %s\n", name, page.Title)
	}
	return out.String()
}
