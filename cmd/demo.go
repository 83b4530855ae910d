package cmd

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/checks/written"
	"handback/cmd/session"
	"handback/report/files"
	"handback/testdata/demo"
)

type demoOptions struct {
	env                 *session.Env
	out, plan, readings string
	show                bool
}

func newDemo(env *session.Env) *cobra.Command {
	o := &demoOptions{env: env}
	c := &cobra.Command{
		Use: "demo", Short: "play a whole invented job and leave its handover", Args: exactly(),
		Long: `Play the whole return to service of a transformer at an invented pumping station,
typed line by line through walk, enter and accept as a person would, on the dates
its readings carry. Leaves the record book, the handover as workbook, page and text,
the session as it ran, and the plan and readings to copy and edit. Your own record
book is not touched.`,
		Example: "  handback demo\n  handback demo --plan plan.yaml --readings readings.txt -o trial",
		RunE:    taking(runDemo, o),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder to make; demo-job, or the next free name, when not given")
	c.Flags().StringVar(&o.plan, "plan", "", "plan to play instead of the built-in one")
	c.Flags().StringVar(&o.readings, "readings", "", "readings to play instead of the built-in ones")
	c.Flags().BoolVar(&o.show, "show", false, "print the session while it is played")
	return c
}

func runDemo(ctx context.Context, o *demoOptions) error {
	pl, readings := demo.Plan, demo.Readings
	for _, f := range []struct {
		path string
		into *[]byte
	}{{o.plan, &pl}, {o.readings, &readings}} {
		if f.path == "" {
			continue
		}
		data, err := readFile(f.path, maxInput)
		if err != nil {
			return fmt.Errorf("%s: %w", f.path, err)
		}
		*f.into = data
	}
	pl, err := written.Gather(pl, besidePlan(filepath.Dir(o.plan)))
	if err != nil {
		return fmt.Errorf("%s: %w", o.plan, err)
	}
	loaded, err := plan.Load(o.plan, pl)
	if err != nil {
		return err
	}
	if len(loaded.Objections()) > 0 {
		return loaded.Objections()
	}
	p, err := newPlayer(o.env, pl, readings)
	if err != nil {
		return err
	}
	dir, err := makeFolder(o.env, o.out)
	if err != nil {
		return err
	}
	for name, data := range map[string][]byte{"plan.yaml": pl, "readings.txt": readings} {
		if err := files.Write(filepath.Join(dir, name), data, files.Over{}); err != nil {
			return err
		}
	}
	p.settle(dir, o.show)
	played := p.play(ctx)
	if err := files.Write(filepath.Join(dir, "session.txt"), p.session.Bytes(), files.Over{}); err != nil {
		return err
	}
	if played != nil {
		return played
	}
	o.say(p.job, dir)
	return nil
}

// say tells what was made.
func (o *demoOptions) say(job, dir string) {
	o.env.Added(job)
	o.env.Made(dir)
	fmt.Fprintf(o.env.Out, "\nplayed: %s\n", job)
	for _, line := range []string{
		filepath.Join(dir, "handover.xlsx") + "  the workbook to sign and archive",
		filepath.Join(dir, "handover.html") + "  the same with pictures, for a browser or to print",
		filepath.Join(dir, "handover.txt") + "   the same in short",
		filepath.Join(dir, "session.txt") + "    what was asked and typed",
		filepath.Join(dir, "plan.yaml") + ", " + filepath.Join(dir, "readings.txt") + "  to copy and edit",
	} {
		fmt.Fprintln(o.env.Out, "  "+line)
	}
	fmt.Fprintf(o.env.Out, "look further: %s\n", (&session.Env{Book: filepath.Join(dir, "book.db"), Named: true}).Hint("status", job))
}

// makeFolder makes a new folder: the named one, or demo-job, demo-job-2, …
func makeFolder(env *session.Env, name string) (string, error) {
	if name != "" {
		if _, err := os.Lstat(name); err != nil || name == "-" { // what is there is named below
			if err := mayWrite(env, false, output{path: name}); err != nil {
				return "", err
			}
		}
		if err := os.Mkdir(name, 0o755); err != nil {
			return "", fmt.Errorf("folder %s: %w; name one that does not exist yet with -o", name, plainPathError(err))
		}
		return name, nil
	}
	for n := 1; n < 1000; n++ {
		name = "demo-job"
		if n > 1 {
			name = fmt.Sprintf("demo-job-%d", n)
		}
		err := os.Mkdir(name, 0o755)
		if err == nil {
			return name, nil
		}
		if !errors.Is(err, os.ErrExist) {
			return "", fmt.Errorf("folder %s: %w; name another place with -o", name, plainPathError(err))
		}
	}
	return "", errors.New("demo-job to demo-job-999 exist already: name a folder with -o")
}

// player plays a readings file: @ sets the clock, $ begins a command, > is a
// line typed to it, # is a comment.
type player struct {
	dir, job string
	env      session.Env
	commands []playCommand
	clock    time.Time
	session  bytes.Buffer
}

type playCommand struct {
	line  int
	at    time.Time
	args  []string
	typed []typedLine
}

type typedLine struct {
	at   time.Time // zero: some seconds after the line before
	text string
}

// newPlayer reads the readings and touches no file.
func newPlayer(env *session.Env, plan, readings []byte) (*player, error) {
	p := &player{}
	if err := p.parse(string(readings)); err != nil {
		return nil, err
	}
	seed := sha256.Sum256(plan)
	p.env = session.Env{In: strings.NewReader(""), Out: env.Out, Now: func() time.Time { return p.clock },
		Random: bytes.NewReader(seed[:]), Program: env.Program + " demo"}
	return p, nil
}

// settle gives the player its folder; show prints the session besides.
func (p *player) settle(dir string, show bool) {
	var out io.Writer = &p.session
	if show {
		out = io.MultiWriter(&p.session, p.env.Out)
	}
	p.dir, p.env.Book, p.env.Out, p.env.Err = dir, filepath.Join(dir, "book.db"), out, out
}

func (p *player) parse(text string) error {
	var at time.Time
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimRight(line, " \r")
		word, rest, _ := strings.Cut(line, " ")
		switch word {
		case "", "#":
		case "@":
			t, err := time.Parse(time.RFC3339, rest)
			if err != nil {
				return fmt.Errorf("readings line %d: %q is not a time such as 2026-05-12T08:05:00+01:00", i+1, rest)
			}
			at = t
		case "$":
			p.commands = append(p.commands, playCommand{line: i + 1, at: at, args: splitWords(rest)})
			at = time.Time{}
		case ">":
			if len(p.commands) == 0 {
				return fmt.Errorf("readings line %d: a typed line before the first command", i+1)
			}
			s := &p.commands[len(p.commands)-1]
			s.typed = append(s.typed, typedLine{at, rest})
			at = time.Time{}
		default:
			return fmt.Errorf("readings line %d: %q: a line begins with @ (time), $ (command), > (typed) or # (comment)", i+1, line)
		}
	}
	if len(p.commands) == 0 || p.commands[0].at.IsZero() {
		return errors.New("readings: the first lines must be @ TIME and $ COMMAND")
	}
	return nil
}

// play opens the plan, runs every command and makes the handover.
func (p *player) play(ctx context.Context) error {
	p.clock = p.commands[0].at
	var name bytes.Buffer
	opening := p.env
	opening.Out = &name
	if status := run(ctx, []string{"open", filepath.Join(p.dir, "plan.yaml")}, opening); status != exitDone {
		return fmt.Errorf("the plan could not be opened:\n%s", strings.TrimRight(p.session.String(), "\n"))
	}
	p.job = strings.TrimSpace(name.String())
	steps := append(p.commands, playCommand{args: []string{"handover", "JOB", "-o", filepath.Join(p.dir, "handover.xlsx"),
		"--page", filepath.Join(p.dir, "handover.html"), "--text", filepath.Join(p.dir, "handover.txt")}})
	for _, s := range steps {
		if !s.at.IsZero() {
			p.clock = s.at
		}
		for i, a := range s.args {
			if a == "JOB" {
				s.args[i] = p.job
			}
		}
		fmt.Fprintf(p.env.Out, "\n$ handback %s\n", strings.Join(s.args, " "))
		env := p.env
		env.In = &typist{player: p, lines: s.typed}
		if status := run(ctx, s.args, env); status != exitDone && status != exitNotReady {
			return fmt.Errorf("readings line %d: %s ended with status %d:\n%s", s.line, s.args[0], status, lastLines(p.session.String(), 12))
		}
	}
	return nil
}

// typist gives a command its lines one Read at a time and moves the clock as a
// person's would.
type typist struct {
	player *player
	lines  []typedLine
}

// pace is how long the person takes over a line that carries no time.
const pace = 20 * time.Second

func (t *typist) Read(b []byte) (int, error) {
	if len(t.lines) == 0 {
		return 0, io.EOF
	}
	l := t.lines[0]
	t.lines = t.lines[1:]
	t.player.clock = t.player.clock.Add(pace)
	if !l.at.IsZero() {
		t.player.clock = l.at
	}
	return copy(b, l.text+"\n"), nil
}

// splitWords cuts a command line at blanks; double quotes keep words together.
func splitWords(s string) []string {
	var out []string
	for i, part := range strings.Split(s, `"`) {
		if i%2 == 1 {
			out = append(out, part)
			continue
		}
		out = append(out, strings.Fields(part)...)
	}
	return out
}

func lastLines(s string, n int) string {
	lines := strings.Split(strings.TrimRight(s, "\n"), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], "\n")
}
