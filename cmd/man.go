package cmd

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/files"
	"handback/report/manual"
)

// newMan writes the pages of the manual.
func newMan(env *session.Env) *cobra.Command {
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
			return runMan(env, out)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "folder to make")
	return c
}

func runMan(env *session.Env, out string) error {
	list, err := pages(newRoot(&session.Env{})) // where a record book lies on this machine is no part of a page
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
	env.Made(out)
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

// beside are the pages that tell more than one does: of a command the one it stands below
// and the topics of its group, of a topic the commands of the groups that name it, of all
// the first page.
func beside(p manual.Page, all []manual.Page) []manual.Page {
	var out []manual.Page
	for _, other := range all {
		var told bool
		switch {
		case other.Name == p.Name && other.Section == p.Section:
		case other.Name == "handback":
			told = true
		case p.Section == manual.Topics:
			told = other.Section == manual.Commands && tells(p, other.Name)
		case other.Section == manual.Topics:
			told = p.Name == "handback" || tells(other, p.Name)
		default:
			told = strings.HasPrefix(p.Name, other.Name+" ")
		}
		if told {
			out = append(out, other)
		}
	}
	return out
}

// tells tells whether a topic tells more of a command or of what stands below it: one of a
// group that names the topic.
func tells(topic manual.Page, command string) bool {
	word, _, _ := strings.Cut(strings.TrimPrefix(command, "handback "), " ")
	return slices.ContainsFunc(groups, func(g group) bool {
		return slices.Contains(g.topics, topic.Name) && slices.Contains(g.commands, word)
	})
}
