package cmd

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"handback/cmd/session"
	"handback/records/bag"
	"handback/report"
)

// targets are what is verified one after another: in the place of a folder that is no
// bag stand the bags in it. lines tells that there may be several.
func (o *verifyOptions) targets(ctx context.Context, args []string) (out []string, lines bool) {
	for _, arg := range args {
		o.job = arg
		bags := []string(nil)
		if arg != "-" && o.isFile(ctx) {
			bags = o.bagsIn(arg)
		}
		if bags == nil {
			out = append(out, arg)
			continue
		}
		out, lines = append(out, bags...), true
	}
	return out, lines || len(out) > 1
}

// bagsIn are the bags in a folder, nil where it is no folder, a bag itself, or has none.
// What else lies there is named, so that nothing is passed over unseen.
func (o *verifyOptions) bagsIn(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // whoever opens it says why
	}
	var out, others []string
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		switch {
		case e.Name() == bag.Declaration:
			return nil
		case strings.EqualFold(filepath.Ext(path), ".zip"), hasDeclaration(path):
			out = append(out, path)
		default:
			others = append(others, path)
		}
	}
	if out == nil {
		return nil
	}
	for _, path := range others {
		fmt.Fprintf(o.env.Err, "%s is no bag and was not looked at\n", path)
	}
	return out
}

func hasDeclaration(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, bag.Declaration))
	return err == nil
}

// verifyMany verifies one after another, whatever the ones before come to, and ends as
// the worst of them.
func (o *verifyOptions) verifyMany(ctx context.Context, targets []string) error {
	var worst error
	bad := 0
	for i, t := range targets {
		o.job = t
		r, err := o.examine(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		var usage session.UsageError
		if errors.As(err, &usage) {
			return err
		}
		if err != nil {
			r = newVerifyReport(nil)
			r.What, r.Job, r.Faults = "unread", t, []string{err.Error()}
		}
		if i > 0 && !o.json {
			fmt.Fprintln(o.env.Out)
		}
		if err := o.show(r, true); err != nil {
			return err
		}
		if err := r.outcome(); err != nil {
			bad++
			if worst == nil || errors.Is(worst, session.ErrPartly) {
				worst = err
			}
		}
	}
	if worst == nil {
		return nil
	}
	return fmt.Errorf("%d of %s did not pass, such as %w", bad, report.Count(len(targets), "record", "records"), worst)
}
