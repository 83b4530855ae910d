package cmd

import (
	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/cmd/walk"
)

func newWalk(env *session.Env) *cobra.Command {
	o := &walk.Options{Env: env, Photo: photoDraft}
	c := &cobra.Command{
		Use: "walk JOB", Short: "be led through the checks of a job", Args: exactly("JOB"),
		Long: `Be led through the checks of a job, from the next open one. Values of one row may
be typed on one line (249.1 248.7 249.0), with units (0.249 kV) and a decimal
comma; joints alike may follow on the same line. What will pass with the instrument
in hand stands beside each reading. Every accepted line is on the disk before the
next question; whatever happens, walk goes on from there. Volts read a few minutes
before at the same point with the same instrument are not asked again. A check that
is read over hours is left between its readings; when nothing else is open, walk
waits for the next one.

At any question: back, skip WHY, use ID (another instrument), anew (read what was
taken over), list, go CHECK, status, note WORDS, defect WHERE: WHAT,
photo, amend, quit, help. A reading that cannot
be right is asked again; keep WHY keeps it. A check that fails is taken again with
repeat WHY, one joint or phase of it with repeat L2 WHY. A hold point stops the walk
until its checks pass; done says that its step has been done.

A refused line comes back on a terminal: arrows and backspace put it right, a letter or
a digit begins it anew. HANDBACK_PLAIN=1 asks again without it, and NO_COLOR=1 leaves out
bold. Was the program killed just then, and the terminal is silent: type reset.`,
		Example:           "  handback walk t2-return-1\n  handback walk t2-return-1 --check volts-t2",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(walk.Run, o, &o.Job),
	}
	c.Flags().StringVar(&o.By, "by", "", "who is testing, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.Check, "check", "", "take this check now, again if it was judged")
	return c
}
