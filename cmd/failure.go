package cmd

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/archive"
	"handback/records/archive/tree"
	"handback/records/bag"
	"handback/records/carrier"
	"handback/records/chain"
	"handback/report"
)

// failure is what a command prints with --json in the place of its answer when it has none.
type failure struct {
	Error fault `json:"error"`
}

// fault is what went wrong, and what it is about where that is known.
type fault struct {
	Status   int      `json:"status" title:"the exit status"`
	Code     string   `json:"code" title:"of its sort, as help json lists them"`
	What     string   `json:"what" title:"in words, as stderr has it"`
	Where    string   `json:"where,omitempty" title:"the argument, option, key or place in a file"`
	Met      string   `json:"met,omitempty" title:"what stood there"`
	Accepted []string `json:"accepted" title:"what may stand there"`
	Next     []string `json:"next" title:"command lines that help"`
	Each     []cause  `json:"each,omitempty" title:"everything that is wrong, where it is several things"`
}

// cause is one thing of several that are wrong.
type cause struct {
	Where string `json:"where,omitempty"`
	What  string `json:"what"`
}

func failureOf(env *session.Env, err error) failure {
	parts := session.PartsOf(err)
	f := fault{Status: exitStatus(err), Code: cmp.Or(parts.Code, codeOf(err)), What: err.Error(), Where: parts.Where, Met: parts.Met, Accepted: parts.Accepted, Next: env.Hinted(err.Error())}
	var not *report.NotTheirs
	if errors.As(err, &not) {
		f.Code, f.Where, f.Met, f.Accepted = session.CodeWrongPerson, "--by", not.By, not.Theirs
	}
	var wrong plan.Problems
	if errors.As(err, &wrong) {
		for _, p := range wrong {
			where := fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col)
			f.Each = append(f.Each, cause{where, strings.TrimPrefix(p.String(), where+": ")})
		}
	}
	for _, what := range parts.Each {
		f.Each = append(f.Each, cause{What: what})
	}
	return failure{f}
}

// codes are the sorts of errors that are known by themselves, the narrower first.
var codes = []struct {
	of   error
	code string
}{
	{session.ErrInterrupted, "interrupted"},
	{records.ErrNoBook, "no-book"}, {records.ErrNoJob, "no-job"}, {archive.ErrNoArchive, "no-archive"}, {archive.ErrNoJob, "no-job"}, {fs.ErrNotExist, "no-file"},
	{records.ErrBusy, "busy"}, {archive.ErrBusy, "busy"},
	{records.ErrReadOnly, "cannot-write"}, {archive.ErrReadOnly, "cannot-write"}, {fs.ErrPermission, "no-permission"},
	{records.ErrFull, "no-room"}, {archive.ErrFull, "no-room"},
	{records.ErrExists, "exists"}, {archive.ErrExists, "exists"}, {fs.ErrExist, "exists"},
	{records.ErrForeign, "not-ours"}, {archive.ErrForeign, "not-ours"}, {bag.ErrNotBag, "not-ours"}, {carrier.ErrNotCarrier, "not-ours"},
	{chain.ErrNewer, "newer"}, {archive.ErrNewer, "newer"},
	{records.ErrDamaged, "not-intact"}, {archive.ErrDamaged, "not-intact"}, {records.ErrStray, "not-intact"}, {session.ErrIntegrity, "not-intact"},
	{session.ErrRefused, "refused"}, {session.ErrPartly, "not-all-compared"}, {tree.ErrNotProved, "not-proved"},
}

// codeOf is the sort of an error that says none.
func codeOf(err error) string {
	for _, c := range codes {
		if errors.Is(err, c.of) {
			return c.code
		}
	}
	var wrong plan.Problems
	var moved *records.MovedError
	switch {
	case errors.As(err, &wrong):
		return "plan"
	case errors.As(err, &moved):
		return "moved"
	case exitStatus(err) == exitUsage:
		return "usage"
	}
	return "failed"
}

// wantsJSON tells whether a command that failed was to answer in JSON. Where its options
// were not understood, it was asked for by whoever wrote so.
func wantsJSON(c *cobra.Command, args []string, err error) bool {
	if f := c.Flags().Lookup("json"); f != nil && f.Changed {
		return f.Value.String() == "true"
	}
	var usage session.UsageError
	return errors.As(err, &usage) && (slices.Contains(args, "--json") || slices.Contains(args, "-j"))
}
