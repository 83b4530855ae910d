package cmd

import (
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/files"
	"handback/report/manual"
)

// newMan writes the pages of the manual.
func newMan(env *session.Env, root *cobra.Command) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use: "man -o FOLDER", Short: "write the manual as pages for man", Args: exactly(),
		Long: `Write the manual as pages for man into a new folder: one a command in section 1, one a
topic in section 7. They say what --help and help TOPIC say. The packages of a release
bring them along.`,
		Example: "  handback man -o man\n  man -l man/handback-plan-check.1",
		RunE: func(*cobra.Command, []string) error {
			if out == "" {
				return session.Usagef("man needs a folder to make: -o FOLDER")
			}
			return runMan(env, root, out)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "folder to make")
	return c
}

func runMan(env *session.Env, root *cobra.Command, out string) error {
	list, err := pages(root)
	if err != nil {
		return err
	}
	if out, err = makeFolder(env, out); err != nil {
		return err
	}
	for _, p := range list {
		file := filepath.Join(out, fmt.Sprintf("%s.%d", p.File(), p.Section))
		if err := files.Write(file, []byte(p.Roff("handback "+session.Version, beside(p, list)...)), files.Over{}); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(env.Out, "%s: %d pages\n", out, len(list))
	return err
}

// pages are all of the manual: a page a command, then a page a topic.
func pages(root *cobra.Command) ([]manual.Page, error) {
	var out []manual.Page
	var below func(c *cobra.Command)
	below = func(c *cobra.Command) {
		out = append(out, commandPage(c))
		for _, sub := range c.Commands() {
			below(sub)
		}
	}
	below(root)
	for _, name := range topics() {
		page, err := topic(root, name)
		if err != nil {
			return nil, err
		}
		out = append(out, page)
	}
	return out, nil
}

// beside are the pages that tell more than one: for a command the topics of its group, for
// a topic the commands of the groups that name it, for both the first page.
func beside(p manual.Page, all []manual.Page) []manual.Page {
	var out []manual.Page
	for _, other := range all {
		if other.File() == p.File() && other.Section == p.Section {
			continue
		}
		told := other.Name == "handback"
		for _, g := range groups {
			topic, command := other, p
			if p.Section == manual.Topics {
				topic, command = p, other
			}
			told = told || topic.Section == manual.Topics && command.Section == manual.Commands &&
				slices.Contains(g.topics, topic.Name) && slices.ContainsFunc(g.commands, func(name string) bool { return command.File() == "handback-"+name })
		}
		if told || p.Name == "handback" && other.Section == manual.Topics {
			out = append(out, other)
		}
	}
	return out
}
