package cmd

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the clock of a place with summer time, wherever the test runs

	"pgregory.net/rapid"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

var sequences = flag.Int("sequences", 400, "how many sequences of commands TestSequences plays; a hundred take some seconds")

// Whatever commands a job is given in whatever order, on whatever clock: after each of
// them its record is intact and says what was said, or the command was refused and
// nothing was stored; and nothing unsafe counts.
//
// The sequences begin at every depth of a job that went well so far, because a walk
// drawn from nothing seldom comes to the interesting places.
func TestSequences(t *testing.T) {
	n := *sequences
	if testing.Short() {
		n = min(n, 15)
	}
	stage := newSequenceStage(t)
	for name, value := range map[string]string{"rapid.checks": fmt.Sprint(n), "rapid.nofailfile": "true"} {
		f := flag.Lookup(name)
		was := f.Value.String()
		if err := f.Value.Set(value); err != nil {
			t.Fatal(err)
		}
		defer f.Value.Set(was)
	}
	rapid.Check(t, func(rt *rapid.T) {
		s := stage.begin(rt)
		defer s.leave()
		for range rapid.IntRange(1, 12).Draw(rt, "moves") {
			s.move()
		}
		s.end()
	})
	t.Logf("%d sequences reached: %s", n, countsText(stage.reached))
	if t.Failed() || n < 300 {
		return
	}
	for _, what := range mustReach {
		if stage.reached[what] == 0 && (n >= 3000 || !slices.Contains(seldomReached, what)) {
			t.Errorf("no sequence of %d came to %q: the test does not look there any longer", n, what)
		}
	}
}

// mustReach is what some sequence of a few hundred has to come to, or the test would
// prove nothing.
var mustReach = append(slices.Collect(maps.Keys(refusals)),
	"ready", "not ready", "stop", "concession", "correction", "correction after a judged check went stale", "correction after an instrument fell due",
	"judged again", "undone", "found bad", "signed", "attached", "read from a file", "walked line", "past a hold", "repeat",
	"clock set back", "midnight crossed", "clock change crossed", "skip", "step taken again",
	"amended", "plan accepted", "defect", "defect closed", "skip accepted", "order", "question", "comment", "answered", "withdrawn", "looked at", "order met", "gone on with", "parted", "adopted", "joined")

// seldomReached are those that a few hundred may miss by chance.
var seldomReached = []string{"refused: own question", "refused: accepted while ordered", "refused: ordered already", "withdrawn", "refused: tester signs", "refused: proof of dead accepted", "refused: live point corrected", "correction after an instrument fell due",
	"refused: own skip", "refused: own reading", "refused: plan accepted by no engineer", "past a hold", "answered", "order met", "plan accepted", "gone on with", "adopted"}

// refusals are the ways in which a command is refused, by what it says.
var refusals = map[string]*regexp.Regexp{
	"refused: dead work on energised plant": regexp.MustCompile(`cannot be taken now: the plant was energised`),
	"refused: not proved dead":              regexp.MustCompile(`cannot be taken now: .*(the plant counts as live|prove it dead again)`),
	"refused: work not done":                regexp.MustCompile(`is not done: everything is removed and accounted for`),
	"refused: behind a hold":                regexp.MustCompile(`lies behind hold`),
	"refused: judged already":               regexp.MustCompile(`was judged \w+; take it again with --repeat`),
	"refused: check the entry":              regexp.MustCompile(`check the entry: `),
	"refused: hold stands":                  regexp.MustCompile(`hold \S+: do not proceed: `),
	"refused: taken already":                regexp.MustCompile(`was recorded as done before`),
	"refused: nothing to undo":              regexp.MustCompile(`there is nothing to undo`),
	"refused: undone in the wrong order":    regexp.MustCompile(`below it was done after it: undo that first`),
	"refused: nothing to accept":            regexp.MustCompile(`there is nothing to accept`),
	"refused: own reading":                  regexp.MustCompile(`nobody accepts a reading of their own`),
	"refused: proof of dead accepted":       regexp.MustCompile(`nobody accepts a proof of dead`),
	"refused: live point corrected":         regexp.MustCompile(`no correction makes it dead`),
	"refused: own skip":                     regexp.MustCompile(`nobody accepts a skip of their own`),
	"refused: nothing amended":              regexp.MustCompile(`it says nothing else than the plan of the job`),
	"refused: plan accepted by no engineer": regexp.MustCompile(`is no engineer of the plan`),
	"refused: nothing to decide":            regexp.MustCompile(`no amendment of the plan waits`),
	"refused: reason says nothing":          regexp.MustCompile(`gives no reason`),
	"refused: tester signs":                 regexp.MustCompile(`who tests does not sign`),
	"refused: no engineer reviews":          regexp.MustCompile(`a review is an engineer's`),
	"refused: ordered already":              regexp.MustCompile(`orders that already`),
	"refused: own question":                 regexp.MustCompile(`nobody answers a question of their own`),
	"refused: accepted while ordered":       regexp.MustCompile(`stands: take it`),
	"refused: no such value":                regexp.MustCompile(`is wanted|is not one of|is not a time`),
}

func countsText(m map[string]int) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(m)) {
		out = append(out, fmt.Sprintf("%s %d", k, m[k]))
	}
	return strings.Join(out, ", ")
}

// sequenceStage is what all sequences share: a folder, the plan with keys, and books
// of jobs that went well down to some depth.
type sequenceStage struct {
	dir, planFile string
	plan          *plan.Plan
	place         *time.Location
	begun         map[string]sequenceStart
	depths        []int // how many steps can have been taken: none to all
	reached       map[string]int
}

type sequenceStart struct {
	book []byte
	now  time.Time
}

// sequenceDays are when a job is opened: an ordinary day, before midnight, around both
// changes of the clock, on the last day of the multimeter and after it.
var sequenceDays = []string{"2026-03-11T09:00", "2026-03-20T23:20", "2026-03-28T23:50", "2026-03-29T00:20", "2026-03-30T22:40", "2026-10-25T00:10"}

func newSequenceStage(t *testing.T) *sequenceStage {
	t.Helper()
	dir := t.TempDir()
	if memory, err := os.MkdirTemp("/dev/shm", "handback-sequences-*"); err == nil { // no power is cut here: memory will do
		dir = memory
		t.Cleanup(func() { os.RemoveAll(memory) })
	}
	g := &sequenceStage{dir: dir, planFile: filepath.Join(dir, "return.yaml"), begun: map[string]sequenceStart{}, reached: map[string]int{}}
	if err := keysOfPlan(filepath.Join(scripts, "shared", "return.yaml"), g.planFile); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(g.planFile)
	if err != nil {
		t.Fatal(err)
	}
	if g.plan, err = plan.Load(g.planFile, data); err != nil {
		t.Fatal(err)
	}
	for i := range len(g.plan.Items()) + 1 {
		g.depths = append(g.depths, i)
	}
	if g.place, err = time.LoadLocation("Europe/London"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "photo.txt"), []byte("an invented picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	return g
}

// sequence is one job on its way through drawn commands.
type sequence struct {
	*sequenceStage
	rt   *rapid.T
	book string
	job  *report.Job
	law  *ledger
	now  time.Time
	told []string // what was typed so far
	look *records.Book
}

const sequenceJob = "ret-1"

// begin draws a day and how far the job went well before the drawn commands begin.
func (g *sequenceStage) begin(rt *rapid.T) *sequence {
	day := rapid.SampledFrom(sequenceDays).Draw(rt, "day")
	depth := rapid.SampledFrom(g.depths).Draw(rt, "depth")
	start := g.after(rt, day, depth)
	s := g.open(rt, start)
	s.told = append(s.told, fmt.Sprintf("(opened %s, the first %d steps taken as planned)", day, depth))
	return s
}

// open puts a copy of a book to work.
func (g *sequenceStage) open(rt *rapid.T, start sequenceStart) *sequence {
	dir, err := os.MkdirTemp(g.dir, "job-*")
	if err != nil {
		rt.Fatal(err)
	}
	s := &sequence{sequenceStage: g, rt: rt, book: filepath.Join(dir, "book.db"), now: start.now, law: newLedger(g.plan)}
	if start.book == nil {
		s.do("", "open", g.planFile)
	} else if err := os.WriteFile(s.book, start.book, 0o600); err != nil {
		rt.Fatal(err)
	}
	if s.look, err = records.OpenRead(context.Background(), s.book); err != nil {
		rt.Fatal(err)
	}
	s.take(s.entries())
	return s
}

func (s *sequence) leave() {
	if s.look != nil {
		s.look.Close()
	}
	os.RemoveAll(filepath.Dir(s.book))
}

// after gives the book of a job whose first steps were taken as planned.
func (g *sequenceStage) after(rt *rapid.T, day string, depth int) sequenceStart {
	key := fmt.Sprintf("%s %d", day, depth)
	if start, ok := g.begun[key]; ok {
		return start
	}
	var start sequenceStart
	if depth == 0 {
		at, err := time.ParseInLocation("2006-01-02T15:04", day, g.place)
		if err != nil {
			rt.Fatal(err)
		}
		s := g.open(rt, sequenceStart{now: at})
		start = s.keep()
	} else {
		s := g.open(rt, g.after(rt, day, depth-1))
		s.now = s.now.Add(2 * time.Minute)
		s.asPlanned(g.plan.Items()[depth-1])
		start = s.keep()
	}
	g.begun[key] = start
	return start
}

// keep closes the book, so that its file is all of it, and reads it.
func (s *sequence) keep() sequenceStart {
	defer s.leave()
	s.look.Close()
	s.look = nil
	data, err := os.ReadFile(s.book)
	if err != nil {
		s.rt.Fatal(err)
	}
	return sequenceStart{data, s.now}
}

// asPlanned takes a step of the plan as it should be.
func (s *sequence) asPlanned(it plan.Item) {
	status := 0
	if it.Hold != nil {
		status, _, _ = s.run("", "done", sequenceJob, it.Hold.ID)
	} else {
		status, _, _ = s.run("", append([]string{"enter", sequenceJob, it.Check.ID}, s.pairs(it.Check, nil)...)...)
	}
	if next, ok := s.job.Next(s.now); status != exitDone || ok && (next.Check != nil && next.Check == it.Check || next.Hold != nil && next.Hold == it.Hold) {
		s.fail("the step as planned was refused")
	}
}

// do runs one command line in this process.
func (s *sequence) do(in string, args ...string) (status int, out, talk string) {
	return s.doIn(s.book, in, args...)
}

// doIn is do with another book.
func (s *sequence) doIn(book, in string, args ...string) (status int, out, talk string) {
	var stdout, stderr bytes.Buffer
	env := session.Env{In: strings.NewReader(in), Out: &stdout, Err: &stderr, Now: func() time.Time { return s.now },
		Random: strings.NewReader(strings.Repeat("chance", 20)), Book: book, Program: "handback test"}
	status = run(context.Background(), args, env)
	return status, stdout.String(), stderr.String()
}

// run runs a command that may write, and holds what it did against the rules.
func (s *sequence) run(in string, args ...string) (status int, out, talk string) {
	s.told = append(s.told, s.now.Format("2006-01-02T15:04:05Z07:00")+"  "+strings.Join(args, " ")+strings.ReplaceAll("\n"+in, "\n", "\n    > "))
	status, out, talk = s.do(in, args...)
	s.told = append(s.told, fmt.Sprintf("  [%d] %s%s", status, out, talk))
	before := len(s.job.Entries)
	added := s.entries()[before:]
	if status != exitDone && status != exitFailed && status != exitUsage {
		s.fail("it ended with status %d", status)
	}
	if status != exitDone && len(added) > 0 && args[0] != "walk" && args[0] != "review" {
		s.fail("it was refused, and stored %d entries", len(added))
	}
	for what, text := range refusals {
		if text.MatchString(talk) {
			s.reached[what]++
		}
	}
	s.take(added)
	s.said(args, out, talk, added)
	return status, out, talk
}

// entries reads the job as it stands in the book.
func (s *sequence) entries() []chain.Entry {
	entries, err := s.look.Entries(context.Background(), sequenceJob)
	if err != nil {
		s.fail("%v", err)
	}
	return entries
}

// take follows what was added, as replay does and by the rules of the ledger.
func (s *sequence) take(added []chain.Entry) {
	var err error
	if s.job == nil {
		s.job, err = report.Fold(s.plan, added)
	} else {
		err = s.job.Add(added...)
	}
	if err != nil {
		s.fail("the record cannot be followed: %v", err)
	}
	if len(s.job.Differs) > 0 {
		s.fail("replay differs: %s", s.job.Differs[0])
	}
	for _, e := range added {
		why := ""
		if is, adopted := s.counted(e); adopted {
			s.reached["adopted"]++
			why = s.law.adopt(is)
		} else {
			why = s.law.follow(is)
		}
		if why != "" {
			s.fail("entry %d (%s %s): %s", e.Seq, e.Kind, e.Check, why)
		}
		s.count(e)
	}
	s.mayBeReady(s.now)
}

// mayBeReady holds the last word of the job against the ledger.
func (s *sequence) mayBeReady(now time.Time) {
	o, err := s.job.Standing(now)
	if err != nil {
		s.fail("%v", err)
	}
	why := s.law.notReady()
	switch {
	case o.Ready && why != "":
		s.fail("%q, but %s", o.Words, why)
	case o.Ready:
		s.reached["ready"]++
	default:
		s.reached["not ready"]++
	}
}

func (s *sequence) fail(format string, args ...any) {
	s.rt.Helper()
	s.rt.Fatalf("%s\n%s", fmt.Sprintf(format, args...), strings.Join(s.told, "\n"))
}

// end examines the book by the commands that a person would use.
func (s *sequence) end() {
	for _, args := range [][]string{{"verify", sequenceJob}, {"doctor"}} {
		if status, out, talk := s.do("", args...); status != exitDone {
			s.fail("%s ends with status %d: %s%s", args[0], status, out, talk)
		}
	}
	o, err := s.job.Standing(s.now)
	if err != nil {
		s.fail("%v", err)
	}
	want := map[bool]int{true: exitDone, false: exitNotReady}[o.Ready]
	if !s.seldom("status") {
		return
	}
	if status, out, talk := s.do("", "status", sequenceJob); status != want || !strings.Contains(out, o.Words) {
		s.fail("status ends with %d, want %d and %q: %s%s", status, want, o.Words, out, talk)
	}
	if rapid.IntRange(0, 19).Draw(s.rt, "pack") != 19 {
		return
	}
	bag := filepath.Join(filepath.Dir(s.book), "bag.zip")
	for _, args := range [][]string{{"pack", sequenceJob, "-o", bag}, {"verify", bag}} {
		if status, out, talk := s.do("", args...); status != exitDone {
			s.fail("%s ends with status %d: %s%s", strings.Join(args, " "), status, out, talk)
		}
	}
	s.reached["packed"]++
}
