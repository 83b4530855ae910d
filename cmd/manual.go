package cmd

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"handback/checks"
	"handback/checks/plan"
	"handback/report/manual"
	"handback/templates"
)

// commandsPage is the topic that lists every command with its flags.
func commandsPage(root *cobra.Command) (manual.Page, error) {
	page := manual.Page{Name: "commands", Section: manual.Topics, Title: "every command with its flags",
		Blocks: []manual.Block{{Sort: manual.Paragraph, Text: "Every command takes `--book FILE` and `--help`, which tells more of it."}}}
	for _, g := range root.Groups() {
		page.Blocks = append(page.Blocks, manual.Block{Sort: manual.Heading, Text: strings.TrimSuffix(g.Title, ":")})
		for _, c := range root.Commands() {
			if c.GroupID == g.ID {
				page.Blocks = append(page.Blocks, listing(c)...)
			}
		}
	}
	return page, nil
}

// referencePage is the topic of all that a plan may hold.
func referencePage(*cobra.Command) (manual.Page, error) {
	schema, err := planSchema()
	if err != nil {
		return manual.Page{}, err
	}
	var kinds []manual.Kind
	for _, name := range plan.KindNames() {
		words, err := templates.Kind(name)
		if err != nil {
			return manual.Page{}, err
		}
		k := checks.KindNamed(name)
		about := manual.Kind{Name: name, Title: k.Title, Shows: words.Shows, Sources: k.Sources}
		for _, u := range checks.UnreadOf(k) {
			about.Unread = append(about.Unread, u.Source+" ("+u.How+": "+u.What+")")
		}
		kinds = append(kinds, about)
	}
	return manual.Reference(schema, kinds)
}

// listing is the points of a command, or of those below it.
func listing(c *cobra.Command) []manual.Block {
	if c.HasSubCommands() {
		var out []manual.Block
		for _, sub := range c.Commands() {
			out = append(out, listing(sub)...)
		}
		return out
	}
	text := c.Short
	var flags []string
	c.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if f.Name != "help" && !f.Hidden {
			flags = append(flags, "--"+f.Name)
		}
	})
	if len(flags) > 0 {
		text += ". Flags: " + strings.Join(flags, " ")
	}
	return []manual.Block{{Sort: manual.Point, Mark: strings.TrimPrefix(c.UseLine(), "handback "), Text: text}}
}

// commandPage is the page of one command.
func commandPage(c *cobra.Command) manual.Page {
	page := manual.Page{Name: c.CommandPath(), Section: manual.Commands, Title: c.Short}
	add := func(heading string, blocks ...manual.Block) {
		if len(blocks) > 0 {
			page.Blocks = append(append(page.Blocks, manual.Block{Sort: manual.Heading, Text: heading}), blocks...)
		}
	}
	use := c.UseLine()
	if c.HasSubCommands() {
		use = c.CommandPath() + " COMMAND"
	}
	add("Synopsis", manual.Block{Sort: manual.Paragraph, Text: "`" + use + "`"})
	add("Description", described(c.Long)...)
	var below []manual.Block
	for _, sub := range c.Commands() {
		below = append(below, manual.Block{Sort: manual.Point, Mark: sub.Name(), Text: sub.Short})
	}
	add("Commands", below...)
	add("Options", options(c.LocalFlags())...)
	if c.HasParent() {
		add("Options of every command", options(c.InheritedFlags())...)
	}
	add("Examples", manual.Block{Sort: manual.Shown, Lines: unset(strings.Split(c.Example, "\n"))})
	return page
}

// described parts the words of a command into paragraphs; lines set in stand as they are.
func described(long string) []manual.Block {
	var out []manual.Block
	for _, part := range strings.Split(strings.TrimSpace(long), "\n\n") {
		lines := strings.Split(part, "\n")
		switch {
		case part == "":
		case strings.HasPrefix(part, "  "):
			out = append(out, manual.Block{Sort: manual.Shown, Lines: unset(lines)})
		default:
			out = append(out, prose(lines)...)
		}
	}
	return out
}

// prose is a paragraph, up to lines in it that are set in.
func prose(lines []string) []manual.Block {
	at := slices.IndexFunc(lines, func(line string) bool { return strings.HasPrefix(line, "  ") })
	if at < 0 {
		return []manual.Block{{Sort: manual.Paragraph, Text: strings.Join(lines, " ")}}
	}
	end := at
	for end < len(lines) && strings.HasPrefix(lines[end], "  ") {
		end++
	}
	out := []manual.Block{{Sort: manual.Paragraph, Text: strings.Join(lines[:at], " ")}, {Sort: manual.Shown, Lines: unset(lines[at:end])}}
	if end < len(lines) {
		out = append(out, prose(lines[end:])...)
	}
	return out
}

// unset takes two blanks off the beginning of each line.
func unset(lines []string) []string {
	out := make([]string, len(lines))
	for i, line := range lines {
		out[i] = strings.TrimPrefix(line, "  ")
	}
	return out
}

// options are the flags of a command, each with what it takes by its name.
func options(flags *pflag.FlagSet) []manual.Block {
	var out []manual.Block
	flags.VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, text := valueName(f), f.Usage
		mark := "--" + f.Name
		if f.Shorthand != "" {
			mark = "-" + f.Shorthand + ", " + mark
		}
		if value != "" {
			mark += " " + value
		}
		if value != "" && f.DefValue != "" && f.DefValue != "[]" && f.DefValue != "0" {
			text += " (" + f.DefValue + " when not given)"
		}
		out = append(out, manual.Block{Sort: manual.Point, Mark: mark, Text: text})
	})
	return out
}
