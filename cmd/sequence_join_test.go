package cmd

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"pgregory.net/rapid"

	"handback/records/chain"
	"handback/report"
)

// join has somebody else go on with a copy of the book, takes what they made, and decides it
// entry by entry; where nothing was added here meanwhile, the job goes on with it as it is.
func (s *sequence) join() {
	other := filepath.Join(filepath.Dir(s.book), fmt.Sprintf("other-%d.db", len(s.told)))
	there := func(status int, args ...string) bool {
		is, out, talk := s.doIn(other, "", args...)
		s.told = append(s.told, "  there: "+strings.Join(args, " "), fmt.Sprintf("  [%d] %s%s", is, out, talk))
		return is == status
	}
	if status, out, talk := s.do("", "backup", other); status != exitDone {
		s.fail("backup ends with status %d: %s%s", status, out, talk)
	}
	since := len(s.job.Entries)
	for range rapid.IntRange(1, 3).Draw(s.rt, "there") {
		there(exitDone, s.elsewhere()...)
	}
	for range rapid.IntRange(0, 2).Draw(s.rt, "here") {
		s.goOn()
	}
	file := filepath.Join(filepath.Dir(s.book), fmt.Sprintf("other-%d.carrier", len(s.told)))
	if !there(exitDone, "pack", sequenceJob, "--since", fmt.Sprint(since), "-o", file) {
		return // all of it was refused there
	}
	if status, _, talk := s.run("", "take", file); status != exitDone {
		s.fail("it is not taken: %s", talk)
	}
	s.beside()
	forks := s.job.Forks()
	if len(forks) == 0 {
		s.reached["gone on with"]++
		return
	}
	s.reached["parted"]++
	if s.seldom("left parted") {
		return
	}
	f := rapid.SampledFrom(forks).Draw(s.rt, "fork")
	var words []string
	for range 3 * (f.There + 1) {
		words = append(words, rapid.SampledFrom([]string{"adopt the readings agree", "adopt the readings agree", "adopt the readings agree", "adopt", "leave taken with the wrong lead", "leave x", "back", "list", ""}).Draw(s.rt, "decision"))
	}
	words = append(words, strings.Split(strings.Repeat("leave taken with the wrong lead\n", f.There)+"join", "\n")...)
	engineer := rapid.SampledFrom([]string{"ben", "bea", "ben", "ada"}).Draw(s.rt, "joins")
	s.run(strings.Join(words, "\n")+"\n", "join", sequenceJob, f.ID, "--by", engineer)
	s.beside()
}

// elsewhere is a command that somebody gives to the copy.
func (s *sequence) elsewhere() []string {
	switch rapid.IntRange(0, 4).Draw(s.rt, "elsewhere") {
	case 0:
		return []string{"defect", sequenceJob, "a door switch sticks", "--by", "bea"}
	case 1:
		return []string{"accept", sequenceJob, s.anyCheck().ID, "--by", "ben", "--why", "the maker was asked and agrees"}
	case 2:
		return []string{"done", sequenceJob, s.anyHold().ID}
	}
	c := s.nextCheck()
	args := append([]string{"enter", sequenceJob, c.ID}, s.pairs(c, nil)...)
	if a := s.job.State(c.ID).Last(); a != nil && a.Judged {
		args = append(args, "--repeat", "the hold waits for it")
	}
	return args
}

// beside reads the other continuations of the job, as a command that opens it does.
func (s *sequence) beside() {
	lines, err := s.look.Beside(context.Background(), sequenceJob, s.job.Entries)
	if err != nil {
		s.fail("%v", err)
	}
	s.job.Lines = lines
	s.mayBeReady(s.now)
}

// counted is an entry as it counts, and whether it was adopted: with the time and the hand of
// the other side.
func (s *sequence) counted(e chain.Entry) (chain.Entry, bool) {
	if e.Kind != report.EntryAdopt {
		return e, false
	}
	is, err := s.job.Counts(e)
	if err != nil {
		s.fail("entry %d: %v", e.Seq, err)
	}
	return is, true
}

// adopt follows what was made on the other side: no clock was set back for it.
func (l *ledger) adopt(e chain.Entry) string {
	newest := l.newest
	l.newest = e.At
	why := l.follow(e)
	l.newest = newest
	return why
}
