package cmd

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
	"handback/report/fork"
)

type joinOptions struct {
	env             *session.Env
	job, branch, by string
	file            string
}

func newJoin(env *session.Env) *cobra.Command {
	o := &joinOptions{env: env}
	c := &cobra.Command{
		Use: "join JOB [BRANCH] --by ENGINEER", Short: "decide, entry by entry, what of another continuation counts",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return session.Usagef("join takes a JOB and at most one BRANCH, %s; type: %s", given(len(args)), c.UseLine())
			}
			return nil
		},
		Long: `Where two people went on with one job, decide as an engineer of the plan what of the
other side counts here. BRANCH is the id of the other side, as jobs and status tell it;
the only one when not given. Its entries are shown one after another, each with what
this side has for the same check or step:

  adopt [WHY]   it counts here, with its own time, person, instrument and values as
                typed, and is judged by the plan in force; WHY where it repeats a check
  leave WHY     it does not count; it stays on record with the reason
  Enter         of what stands on both sides, such as a reading typed twice: left as the
                same
  back, list, quit

A finding follows its readings and is judged again here. Signatures and amendments of the
plan stay with the side they were given for, and so does an acceptance, unless what was
signed still holds here: the same finding counts, by the same plan. Such a one is asked
for: adopt records it here with its signature, as accept --signature would. What was read or done
before the plant was last changed on this side cannot be adopted. At the end all is
stored at once, closed by an entry that names every entry of the other side with what
became of it; until then nothing is. An entry of the other side that comes later opens
the fork again.

With --file the decisions are read from a file, - for stdin, a line each:
  12 adopt
  13 leave read with the wrong lead
What stands on both sides, and what nobody decides, needs no line.`,
		Example:           "  handback join t2-return-1 --by jonas\n  handback join t2-return-1 t2-return-1.93b1f0c2aa17 --by jonas --file decisions.txt",
		ValidArgsFunction: completeJobs(env, branchIDs),
		RunE:              taking(runJoin, o, &o.job, &o.branch),
	}
	c.Flags().StringVar(&o.by, "by", "", "who decides, an engineer of the plan")
	c.Flags().StringVar(&o.file, "file", "", "read the decisions from a file; - for stdin")
	return c
}

// branchIDs offers the other continuations of a job.
func branchIDs(s *session.Session) []string {
	var out []string
	for _, f := range s.Job.Forks() {
		out = append(out, f.ID+"\t"+s.Job.ForkWords(f))
	}
	return out
}

func runJoin(ctx context.Context, o *joinOptions) error {
	if o.by == "" {
		return session.Usagef("a join is an engineer's: --by ENGINEER")
	}
	s, err := session.OpenSession(ctx, o.env, o.job, openBook)
	if err != nil {
		return err
	}
	defer s.Close()
	s.By = o.by
	if err := s.Job.MayJoin(s.By); err != nil {
		return err
	}
	f, err := o.fork(s)
	if err != nil {
		return err
	}
	j, err := newJoiner(ctx, s, f)
	if err != nil {
		return err
	}
	if o.file == "" {
		return j.ask(ctx)
	}
	data, err := readText(o.env, o.file, maxInput)
	if err != nil {
		return err
	}
	if err := j.decided(ctx, o.file, string(data)); err != nil {
		return err
	}
	return j.store(ctx)
}

// fork finds the fork that is to be joined.
func (o *joinOptions) fork(s *session.Session) (fork.Fork, error) {
	all := s.Job.Forks()
	if o.branch != "" {
		all = slices.DeleteFunc(all, func(f fork.Fork) bool { return f.ID != o.branch })
	}
	var ids []string
	for _, f := range all {
		ids = append(ids, f.ID)
	}
	switch {
	case len(all) == 0 && o.branch != "":
		return fork.Fork{}, session.Usagef("no continuation %q of job %s that is not joined; type: %s", o.branch, s.ID, o.env.HintOf("status", s.ID))
	case len(all) == 0:
		return fork.Fork{}, fmt.Errorf("job %s: nothing to join: there is no other continuation, or it is joined", s.ID)
	case len(all) > 1:
		return fork.Fork{}, session.Usagef("job %s has %d other continuations: say which, one of %s", s.ID, len(all), strings.Join(ids, ", "))
	case all[0].Superseded > 0:
		return fork.Fork{}, fmt.Errorf("job %s: entry %d of %s joined all of this side: go on there: %s", s.ID, all[0].Superseded, all[0].ID, o.env.HintOf("walk", all[0].ID))
	}
	return all[0], nil
}

// decided takes the decisions from lines ENTRY adopt [WHY] and ENTRY leave WHY.
func (j *joiner) decided(ctx context.Context, file, text string) error {
	lines, err := decisionLines(file, text)
	if err != nil {
		return err
	}
	for j.next() {
		e := j.entry()
		word, given := lines[e.Seq]
		delete(lines, e.Seq)
		c := j.settled()
		switch {
		case given && c.settles():
			return fmt.Errorf("%s: entry %d: %s: nobody decides it", file, e.Seq, j.leftWords(e, c.code))
		case given:
			c, err = j.readChoice(word)
		case c.code == "" || c.signed:
			err = fmt.Errorf("no decision: %s", j.words(e))
		}
		if err == nil {
			err = j.take(ctx, c)
		}
		if err != nil {
			return fmt.Errorf("%s: entry %d: %w; nothing was stored", file, e.Seq, err)
		}
	}
	for n := range lines {
		return fmt.Errorf("%s: entry %d is not one to be decided; nothing was stored", file, n)
	}
	return nil
}

func decisionLines(file, text string) (map[int]string, error) {
	out := map[int]string{}
	lines := bufio.NewScanner(strings.NewReader(text))
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		number, word, _ := strings.Cut(line, " ")
		seq, err := strconv.Atoi(number)
		if _, twice := out[seq]; err != nil || twice {
			return nil, fmt.Errorf("%s:%d: %q: ENTRY adopt, or ENTRY leave WHY, once for each entry is wanted", file, n, line)
		}
		out[seq] = word
	}
	return out, lines.Err()
}

// choice is what becomes of an entry of the other side.
type choice struct {
	adopt     bool
	code, why string
	signed    bool // it accepts what counts here too
	carry     bool // and is recorded here
}

// settles tells whether nobody has to decide.
func (c choice) settles() bool { return c.code != "" && c.code != fork.LeftSame && !c.signed }

// readChoice reads adopt [WHY] or leave WHY. A join names an acceptance as left, whatever the
// person decides: it is recorded here by an entry of its own.
func (j *joiner) readChoice(typed string) (choice, error) {
	c, err := readChoice(typed)
	if err == nil && j.next() && j.settled().signed {
		c = choice{code: fork.LeftSigned, why: c.why, signed: true, carry: c.adopt}
		if c.carry {
			c.why = ""
		}
	}
	return c, err
}

func readChoice(typed string) (choice, error) {
	word, why, _ := strings.Cut(strings.TrimSpace(typed), " ")
	c := choice{adopt: word == "adopt", why: strings.TrimSpace(why)}
	switch {
	case word != "adopt" && word != "leave":
		return c, fmt.Errorf("%.40q: adopt [WHY] or leave WHY is wanted", typed)
	case !c.adopt || c.why != "":
		return c, session.Reasons(c.why)
	}
	return c, nil
}

// ask leads through the entries of the other side.
func (j *joiner) ask(ctx context.Context) error {
	in := session.NewLines(j.Env)
	in.Say("%s, as %s; to be decided: %s there; type help for the words you can type\n", j.ID, j.Job.PersonName(j.By), report.Count(len(j.open), "entry", "entries"))
	for {
		for j.next() {
			if c := j.settled(); c.settles() {
				in.Say("\n%s\n  left: %s\n", j.words(j.entry()), j.leftWords(j.entry(), c.code))
				if err := j.take(ctx, c); err != nil {
					return err
				}
				continue
			}
			if err := j.one(ctx, in); err != nil {
				return j.quit(err)
			}
		}
		in.Say("\n%s\n", j.sum())
		typed, err := in.Prompt(ctx, "  store all of it: type join, or back, list, quit: ")
		switch {
		case err != nil:
			return j.quit(err)
		case typed == "join":
			return j.store(ctx)
		default:
			if err := j.word(ctx, in, typed); err != nil {
				return j.quit(err)
			}
		}
	}
}

var errJoinQuit = errors.New("quit")

// quit says that nothing was stored.
func (j *joiner) quit(err error) error {
	again := j.Env.HintOf("join", j.ID, j.fork.ID, "--by", j.By)
	switch {
	case errors.Is(err, io.EOF):
		return fmt.Errorf("the input ended before all was decided; nothing was stored; decide it with: %s", again)
	case errors.Is(err, errJoinQuit):
		fmt.Fprintf(j.Env.Err, "nothing was stored; decide it with: %s\n", again)
		return nil
	}
	return err
}

// one shows an entry and takes a word.
func (j *joiner) one(ctx context.Context, in *session.Lines) error {
	e := j.entry()
	in.Say("\n[%d/%d] %s\n", len(j.made)+1, len(j.open), j.words(e))
	for _, text := range j.beside(e) {
		in.Say("  here: %s\n", text)
	}
	ask := "  adopt [WHY], leave WHY, back, list, quit: "
	switch c := j.settled(); {
	case c.code == fork.LeftSame:
		ask = "  the same stands here: Enter leaves it; or adopt [WHY], leave WHY, back, list, quit: "
	case c.signed:
		ask = "  what was signed holds here too: adopt, leave WHY, back, list, quit: "
	}
	typed, err := in.Prompt(ctx, ask)
	if err != nil {
		return err
	}
	return j.word(ctx, in, typed)
}

// word does what was typed.
func (j *joiner) word(ctx context.Context, in *session.Lines, typed string) error {
	switch typed {
	case "quit":
		return errJoinQuit
	case "back":
		return j.back(ctx)
	case "list":
		for i, x := range j.made {
			in.Say("  %s: %s\n", j.words(j.open[i]), x.words())
		}
		return nil
	case "help", "?":
		in.Say("  adopt [WHY]: it counts here; leave WHY: it does not; back: the one before again; list: what was decided; quit: store nothing\n")
		return nil
	}
	c, err := j.readChoice(typed)
	switch {
	case !j.next():
		in.Refuse("  type join, back, list or quit\n")
		return nil
	case typed == "" && j.settled().code == fork.LeftSame:
		c, err = choice{code: fork.LeftSame}, nil
	}
	if err == nil {
		err = j.take(ctx, c)
	}
	if err != nil && !errors.Is(err, session.ErrInterrupted) {
		in.Refuse("  %v\n", err)
		return nil
	}
	return err
}
