package cmd

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

// joiner takes up decisions on the entries of another continuation, one after another, as
// they will stand in the book. Nothing is stored before store.
type joiner struct {
	*session.Session
	fork  fork.Fork
	line  []chain.Entry // the other side, each entry as what it says
	there []chain.Entry // the same as they are stored
	open  []chain.Entry // those of there that are to be decided
	made  []choice      // of the first of them

	adopted map[string]int // by hash: the entry here that adopts it
	number  map[string]int // by hash: the number of its attempt, defect or remark here
}

// openBook opens a record book to write to it.
func openBook(ctx context.Context, path string) (*records.Book, error) {
	return records.Open(ctx, path)
}

func newJoiner(ctx context.Context, s *session.Session, f fork.Fork) (*joiner, error) {
	j := &joiner{Session: s, fork: f}
	for _, l := range s.Job.Lines {
		if l.Head().Hash == f.Head {
			j.there = l.Entries
		}
	}
	other, err := session.FoldJob(ctx, s.Book, j.there)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.ID, err)
	}
	j.line = other.Counted()
	j.open = fork.Open(s.Job.Entries, j.there, s.Job.Lines)
	j.adopted, j.number = map[string]int{}, map[string]int{}
	return j, nil
}

// next tells whether an entry is left to be decided.
func (j *joiner) next() bool { return len(j.made) < len(j.open) }

// entry is the one that is to be decided now.
func (j *joiner) entry() chain.Entry { return j.open[len(j.made)] }

// leftWords tell why an entry is left that nobody decides.
var leftWords = map[string]string{
	fork.LeftJudged:    "a finding follows its readings, which are judged here",
	fork.LeftSigned:    "a signature or an acceptance stays with the side it was given for",
	fork.LeftPlan:      "a version of the plan stays on its side: amend this one where it is wanted here",
	fork.LeftSame:      "the same stands here",
	fork.LeftTogether:  "what it goes on with was left, or is over here",
	fork.LeftBelonging: "it belongs to the side it stands in",
}

// settled is what becomes of the entry without a decision, or may; without a code somebody
// decides.
func (j *joiner) settled() choice {
	e := j.entry()
	if code := fork.MayAdopt(e); code != "" {
		why, ok := j.holdsHere(e)
		return choice{code: code, signed: ok && why == nil}
	}
	if fork.Same(j.Job.Entries, j.fork.After, e) > 0 {
		return choice{code: fork.LeftSame}
	}
	if _, ok := j.numberOf(e); !ok {
		return choice{code: fork.LeftTogether}
	}
	return choice{}
}

// begins are the kinds that give the numbers which other entries name.
var begins = map[string]string{"attempt": report.EntryRead, "defect": report.EntryDefect, "remark": report.EntryRemark}

func memberOf(e chain.Entry, name string) int {
	var members map[string]json.RawMessage
	var n int
	if json.Unmarshal(e.Data, &members) != nil || json.Unmarshal(members[name], &n) != nil {
		return 0
	}
	return n
}

// numberOf is the number that the attempt, defect or remark of an entry has here, 0 for an
// entry without; not ok where what it goes on with is not here.
func (j *joiner) numberOf(e chain.Entry) (number int, ok bool) {
	is := j.line[e.Seq-1]
	name := fork.Numbered(is.Kind)
	if name == "" {
		return 0, true
	}
	was := memberOf(is, name)
	first := slices.IndexFunc(j.line, func(x chain.Entry) bool {
		return x.Kind == begins[name] && (name != "attempt" || x.Check == is.Check) && memberOf(x, name) == was
	})
	switch {
	case first < 0:
		return 0, false
	case j.there[first].Hash == e.Hash:
		return j.fresh(name, is.Check), true
	case first < j.fork.After:
		return was, name != "attempt" || j.goesOn(is, was)
	}
	number, ok = j.number[j.there[first].Hash]
	return number, ok && (name != "attempt" || j.goesOn(is, number))
}

// fresh is the number of the next attempt, defect or remark here.
func (j *joiner) fresh(name, check string) int {
	switch name {
	case "defect":
		return len(j.Job.Defects) + 1
	case "remark":
		return len(j.Job.Remarks) + 1
	}
	if s := j.Job.State(check); s != nil && s.Last() != nil {
		return s.Last().Number + 1
	}
	return 1
}

// goesOn tells whether a line or a correction can go on with an attempt here.
func (j *joiner) goesOn(is chain.Entry, attempt int) bool {
	s := j.Job.State(is.Check)
	if s == nil || s.Last() == nil || s.Last().Number != attempt {
		return false
	}
	return s.Last().Judged == (is.Kind == report.EntryCorrect)
}

// take takes up what becomes of the entry. After an error all before it stands as it did.
func (j *joiner) take(ctx context.Context, c choice) error {
	err := j.stage(c)
	if err == nil {
		j.made = append(j.made, c)
		return nil
	}
	if again := j.again(ctx, j.made); again != nil {
		return again
	}
	return err
}

// back takes back the newest decision of the person.
func (j *joiner) back(ctx context.Context) error {
	n := len(j.made)
	for n > 0 {
		n--
		if !j.made[n].settles() {
			break
		}
	}
	return j.again(ctx, j.made[:n])
}

// again reads the job anew and takes up what was decided.
func (j *joiner) again(ctx context.Context, made []choice) error {
	f := j.fork
	if err := j.Load(ctx, j.ID); err != nil {
		return err
	}
	j.made, j.fork = nil, f
	clear(j.adopted)
	clear(j.number)
	for _, c := range slices.Clone(made) {
		if err := j.stage(c); err != nil {
			return err
		}
		j.made = append(j.made, c)
	}
	return nil
}

func (j *joiner) stage(c choice) error {
	e := j.entry()
	is := j.line[e.Seq-1]
	if !c.adopt {
		if c.code == fork.LeftJudged {
			return j.judge(is)
		}
		return nil
	}
	number, ok := j.numberOf(e)
	if !ok {
		return fmt.Errorf("it cannot be adopted: %s", leftWords[fork.LeftTogether])
	}
	if s := j.Job.State(is.Check); is.Kind == report.EntryRead && s != nil && s.Last() != nil && s.Last().Number != number {
		switch {
		case !s.Last().Judged:
			return fmt.Errorf("attempt %d of %s is begun here: complete it first, or leave WHY", s.Last().Number, is.Check)
		case c.why == "":
			return fmt.Errorf("check %s was taken here already: adopt WHY, or leave WHY", is.Check)
		}
	}
	err := j.Stage(chain.Draft{Kind: report.EntryAdopt, Check: is.Check, Data: fork.Adopted{Hash: e.Hash, Entry: string(e.Body), Number: number, Why: c.why}})
	if err != nil {
		return fmt.Errorf("it cannot be adopted: %w", err)
	}
	if broken := j.Broken(fork.RuleListed); len(broken) > 0 {
		return fmt.Errorf("it cannot be adopted: %s", broken[0])
	}
	j.adopted[e.Hash], j.number[e.Hash] = j.Job.Head().Seq, number
	for k := len(j.Job.Entries); k > 0; k-- { // what it changes is judged again behind it
		if j.Job.Entries[k-1].Kind == report.EntryAdopt {
			j.adopted[e.Hash] = k
			break
		}
	}
	return nil
}

// judge judges an attempt that was adopted, once a finding of the other side shows that it
// was complete there.
func (j *joiner) judge(is chain.Entry) error {
	s := j.Job.State(is.Check)
	if s == nil || s.Last() == nil || s.Last().Judged {
		return nil
	}
	lines := s.Last().Lines
	last := lines[len(lines)-1]
	in := j.Job.Input(s.Check, last.At)
	if j.Job.Entries[last.Seq-1].Kind != report.EntryAdopt || !session.Complete(in) {
		return nil
	}
	_, d := j.Judgement(in, s.Last().Number)
	d.At = time.Time{} // recorded now, judged as of its last line
	return j.Stage(d)
}

// store closes the fork.
func (j *joiner) store(ctx context.Context) error {
	d := fork.Joined{After: j.fork.After, Head: j.fork.Head, Entries: []fork.Decision{}}
	for i, e := range j.open {
		c, same := j.made[i], 0
		if c.code == fork.LeftSame {
			same = fork.Same(j.Job.Entries, j.fork.After, e)
		}
		d.Entries = append(d.Entries, fork.Decision{Entry: e.Seq, Hash: e.Hash, Adopted: j.adopted[e.Hash], Code: c.code, Same: same, Why: c.why})
	}
	d.Lost = fork.LostOf(j.line, d.Entries)
	was := j.Job.Head().Seq
	if err := j.Stage(chain.Draft{Kind: report.EntryJoin, Data: d}); err != nil {
		return err
	}
	accepted, err := j.carry()
	if err != nil {
		return err
	}
	left := j.leftOpen()
	if err := j.Commit(ctx); err != nil {
		return err
	}
	fmt.Fprintf(j.Env.Out, "%s: %s\n", j.ID, j.sum())
	for _, text := range accepted {
		fmt.Fprintln(j.Env.Out, text)
	}
	for _, text := range left {
		fmt.Fprintln(j.Env.Err, text)
	}
	for _, f := range j.Job.Forks() {
		fmt.Fprintf(j.Env.Err, "FORK: job %s %s\n", j.ID, j.Job.ForkWords(f))
	}
	fmt.Fprintf(j.Env.Err, "joined %s in entry %d, of which every decision is on record; how it stands: %s\n", j.fork.ID, was+1, j.Env.HintOf("status", j.ID))
	return nil
}
