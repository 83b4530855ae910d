package cmd

import (
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

// paged are the commands whose answers may be long and that ask nothing.
var paged = []string{"archive due", "archive find", "archive recall", "archive show", "archive trend", "flags", "instruments", "jobs", "kinds", "plan check", "plan diff", "plan steps",
	"schema", "status", "try", "verify", "version"}

// throughPager sends what those commands print through the pager that is asked for, where
// there is a terminal to show it on.
func throughPager(env *session.Env, c *cobra.Command) {
	for _, sub := range c.Commands() {
		throughPager(env, sub)
	}
	if !slices.Contains(paged, commandName(c)) {
		return
	}
	run := c.RunE
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := startPager(env); err != nil {
			return err
		}
		return run(c, args)
	}
}

func startPager(env *session.Env) error {
	words := strings.Fields(env.Pager)
	a, ok := env.Out.(*answer)
	if len(words) == 0 || !ok || a.Terminal() == nil {
		return nil
	}
	pager := exec.Command(words[0], words[1:]...)
	pager.Stdout, pager.Stderr = a.Terminal(), os.Stderr
	in, err := pager.StdinPipe()
	if err == nil {
		err = pager.Start()
	}
	if err != nil {
		return fmt.Errorf("HANDBACK_PAGER=%s: %w", env.Pager, err)
	}
	a.Writer.(*session.PlainWriter).To = in
	env.Paged = func() error {
		in.Close()
		return pager.Wait()
	}
	return nil
}
