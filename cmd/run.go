package cmd

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
)

const (
	exitDone      = 0
	exitFailed    = 1
	exitUsage     = 2
	exitNotReady  = 3
	exitIntegrity = 4
	exitStopped   = 130
)

const exitHelp = `
Exit status: 0 done; 1 failed; 2 wrong usage; 3 not ready for service (status,
try); 4 the record is not intact, or not what was asked for (verify, doctor); 5 nothing
is wrong as far as was compared, but not everything could be (verify); 130 interrupted.`

const environmentHelp = `
HANDBACK_BOOK names the record book, HANDBACK_BY who works, HANDBACK_JOB the job, where
the command does not; who signs, accepts, reviews, amends, joins or overrides is always typed. JOB may be left out where only one is under way, too; for who only
looks (status, flags, export, verify, review --json) the beginning of its name serves.
HANDBACK_PAGER=less shows what those and other lists print page by page on a terminal.
In the place of a file - is stdin, or stdout where one is made. With --json what goes
wrong is one JSON document as well: handback schema error.
`

var errNotReady = errors.New("not ready for service")

// Main runs one command line and gives its exit status.
func Main(args []string, env session.Env) int {
	debug.SetGCPercent(400) // a run lives for a moment: collecting less is quicker
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // whoever asks again is not kept waiting
	return run(ctx, args, env)
}

// run is Main without the signals, so that demo can play command lines.
func run(ctx context.Context, args []string, env session.Env) int {
	plain, talk := &session.PlainWriter{To: env.Out, Marks: env.Marks}, &session.PlainWriter{To: env.Err, Marks: env.Marks}
	out := &answer{Writer: plain}
	env.Out, env.Err = out, talk
	root := newRoot(&env)
	root.SetArgs(args)
	root.SetIn(env.In)
	root.SetOut(env.Out)
	root.SetErr(env.Err)
	ran, err := root, plainArguments(args)
	if err == nil {
		ran, err = root.ExecuteContextC(ctx)
	}
	out.err = cmp.Or(out.err, plain.Flush())
	if env.Paged != nil {
		err = errors.Join(err, env.Paged())
	}
	err = errors.Join(err, talk.Flush())
	if ctx.Err() != nil && err != nil {
		err = session.ErrInterrupted
	}
	if out.err != nil && (err == nil || errors.Is(err, errNotReady) || errors.Is(err, errDiffers) || errors.Is(err, session.ErrPartly) || strings.Contains(err.Error(), out.err.Error())) {
		if errors.Is(out.err, syscall.EPIPE) {
			return exitFailed // the reader has had enough
		}
		err = fmt.Errorf("the answer could not be written; what was recorded before that is stored: %w", out.err)
	}
	if err != nil && !out.began && wantsJSON(ran, args, err) {
		if failed := printJSON(env.Out, failureOf(&env, err)); failed != nil {
			err = errors.Join(err, failed)
		}
	}
	return tell(env, err)
}

// tell prints what went wrong, once, and gives its exit status.
func tell(env session.Env, err error) int {
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNotReady):
		return exitNotReady // the answer on stdout has said so
	case errors.Is(err, session.ErrInterrupted):
		fmt.Fprintln(env.Err, "handback: interrupted; every accepted line is stored")
		return exitStopped
	}
	fmt.Fprintf(env.Err, "handback: %v\n", err)
	return exitStatus(err)
}

// exitStatus is what a command ends with that failed so.
func exitStatus(err error) int {
	var usage session.UsageError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNotReady):
		return exitNotReady
	case errors.Is(err, session.ErrInterrupted):
		return exitStopped
	case errors.As(err, &usage):
		return exitUsage
	case errors.Is(err, session.ErrPartly):
		return session.ExitPartly
	case errors.Is(err, session.ErrIntegrity), errors.Is(err, session.ErrRefused), errors.Is(err, records.ErrDamaged), errors.Is(err, records.ErrStray):
		return exitIntegrity
	}
	return exitFailed
}

// plainArguments refuses signs in a command line that do not show: they would go on
// into the record, a file name or an answer.
func plainArguments(args []string) error {
	for i, a := range args {
		for _, r := range a {
			if chain.Hidden(r) {
				return session.Usagef("argument %d, %.80q, holds %U, a sign that does not show: type it without, and rename a file that is called so", i+1, a, r)
			}
		}
	}
	return nil
}
