package cmd

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pgregory.net/rapid"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
)

// drawn changes sound answers: mostly not, else one is nonsense or only some are given.
func (s *sequence) drawn(form []checks.Field, values map[string]string) {
	switch rapid.IntRange(0, 5).Draw(s.rt, "how") {
	case 0, 1, 3:
		f := rapid.SampledFrom(form).Draw(s.rt, "field")
		values[f.Key] = s.nonsense(f)
	case 2:
		from := rapid.IntRange(0, len(form)-1).Draw(s.rt, "from")
		for i, f := range form {
			if open := s.half("part"); i < from != open {
				delete(values, f.Key)
			}
		}
	}
}

func (s *sequence) half(what string) bool { return rapid.Bool().Draw(s.rt, what) }

// seldom is true about once in four.
func (s *sequence) seldom(what string) bool {
	return rapid.IntRange(0, 3).Draw(s.rt, what) == 3
}

var reasonsGiven = []string{"the washer was missing", "second look at the photograph", "display read twice and photographed", "  ", "x", "because"}

func (s *sequence) reason() string {
	if s.seldom("poor") {
		return rapid.SampledFrom(reasonsGiven).Draw(s.rt, "reason")
	}
	return reasonsGiven[0]
}

// options are flags drawn now and then.
func (s *sequence) options(names ...string) []string {
	var out []string
	for _, name := range names {
		if s.seldom(name) {
			out = append(out, "--"+name, s.reason())
		}
	}
	return out
}

func (s *sequence) anyCheck() *plan.Check {
	return rapid.SampledFrom(s.job.Plan.Checks()).Draw(s.rt, "check")
}

// nextCheck is mostly the check that comes next, or whose repeat a hold waits for.
func (s *sequence) nextCheck() *plan.Check {
	it, ok := s.job.Next(s.now)
	switch {
	case ok && it.Check != nil && !s.seldom("another"):
		return it.Check
	case ok && it.Hold != nil && !s.seldom("another"):
		if gaps := s.job.Gaps(it.Hold, s.now); len(gaps) > 0 {
			if c := s.job.Plan.Check(gaps[0].Check); c != nil { // not a defect
				return c
			}
		}
	}
	return s.anyCheck()
}

func (s *sequence) anyHold() *plan.Hold {
	var all []*plan.Hold
	for _, it := range s.plan.Items() {
		if it.Hold != nil {
			all = append(all, it.Hold)
		}
	}
	if it, ok := s.job.Next(s.now); ok && it.Hold != nil && !s.seldom("another") {
		return it.Hold
	}
	return rapid.SampledFrom(all).Draw(s.rt, "hold")
}

func (s *sequence) anyone() string {
	return rapid.SampledFrom([]string{"ben", "ada", "ben", "bea", "cleo"}).Draw(s.rt, "who")
}

// move draws one move of the clock and one command.
func (s *sequence) move() {
	s.clock()
	moves := []func(){s.goOn, s.goOn, s.goOn, s.goOn, s.enterOne, s.enterOne, s.walk, s.walk, s.readFile, s.takeStep, s.undo, s.undo,
		s.correctOne, s.correctOne, s.concedeOne, s.concedeOne, s.findBad, s.sign, s.attach, s.liveAgain, s.outAndAccepted,
		s.amend, s.amend, s.defect, s.skipAndAccept, s.review, s.review, s.answer, s.join, s.join}
	rapid.SampledFrom(moves).Draw(s.rt, "move")()
}

// clock lets time pass: mostly minutes, sometimes far, sometimes back.
func (s *sequence) clock() {
	switch rapid.IntRange(0, 11).Draw(s.rt, "clock") {
	case 0:
		s.now = s.now.Add(time.Duration(rapid.IntRange(5, 90).Draw(s.rt, "minutes")) * time.Minute)
	case 1:
		s.now = s.now.Add(time.Duration(rapid.IntRange(1, 30).Draw(s.rt, "hours")) * time.Hour)
	case 2:
		s.now = s.now.Add(-time.Duration(rapid.IntRange(1, 200).Draw(s.rt, "minutes back")) * time.Minute)
	case 3:
		s.now = s.now.AddDate(0, 0, rapid.SampledFrom([]int{1, 20, 400, -1, -30}).Draw(s.rt, "days"))
	default:
		s.now = s.now.Add(time.Duration(rapid.IntRange(0, 200).Draw(s.rt, "seconds")) * time.Second)
	}
}

// liveAgain makes the plant dead again and goes on: prove, begin, work, count, as far as
// it comes.
func (s *sequence) liveAgain() {
	for _, h := range []string{"open-coupler", "close", "energise"} {
		if _, taken := s.job.Steps[h]; taken {
			s.run("", "undone", sequenceJob, h, "--why", "a smell of burning")
		}
	}
	for _, what := range []string{"dead", "work", "taps", "bolts", "back", "energise"} {
		s.now = s.now.Add(time.Minute)
		if s.seldom("leave out") {
			continue
		}
		if what == "dead" && s.seldom("live") {
			s.foundLive()
			continue
		}
		if s.plan.Hold(what) != nil {
			s.run("", "done", sequenceJob, what)
			continue
		}
		s.run("", append([]string{"enter", sequenceJob, what, "--repeat", "the plant was live"}, s.pairs(s.plan.Check(what), nil)...)...)
	}
}

// foundLive finds a point live, and may try to make it dead with the pen.
func (s *sequence) foundLive() {
	dead := s.plan.Check("dead")
	live := func(_ []checks.Field, values map[string]string) { values["l2e"] = "live" }
	s.run("", append([]string{"enter", sequenceJob, "dead", "--repeat", "the plant was live"}, s.pairs(dead, live)...)...)
	if s.half("pen") {
		s.run("", "correct", sequenceJob, "dead", "l2e=not live", "--why", "looked at the wrong lamp")
	} else if s.half("accept") {
		s.run("", "accept", sequenceJob, "dead", "--by", "ben", "--why", "the lamp glows by itself")
	}
}

// outAndAccepted has an engineer read what is out or a stop, and one of the two accept it.
func (s *sequence) outAndAccepted() {
	out := rapid.SampledFrom([]string{"bolts j1_torque 36.5", "hv value 11.4", "states s1 no", "back earths_removed 1", "present l3 not lit"}).Draw(s.rt, "out")
	parts := strings.SplitN(out, " ", 3)
	pairs := s.pairs(s.plan.Check(parts[0]), func(_ []checks.Field, values map[string]string) { values[parts[1]] = parts[2] })
	s.run("", append([]string{"enter", sequenceJob, parts[0], "--by", "ben", "--repeat", "looked again"}, pairs...)...)
	engineer := rapid.SampledFrom([]string{"ben", "bea"}).Draw(s.rt, "engineer")
	s.run("", "accept", sequenceJob, parts[0], "--by", engineer, "--why", "the maker was asked and agrees")
}

// goOn does what a person would do next.
func (s *sequence) goOn() {
	it, ok := s.job.Next(s.now)
	if ok && it.Hold != nil && len(s.job.Gaps(it.Hold, s.now)) == 0 {
		s.run("", "done", sequenceJob, it.Hold.ID)
		return
	}
	c := s.nextCheck()
	if ok && it.Check != nil {
		c = it.Check
	}
	args := append([]string{"enter", sequenceJob, c.ID}, s.pairs(c, nil)...)
	if a := s.job.State(c.ID).Last(); a != nil && a.Judged {
		args = append(args, "--repeat", "the hold waits for it")
	}
	s.run("", args...)
}

func (s *sequence) enterOne() {
	c := s.nextCheck()
	args := append([]string{"enter", sequenceJob, c.ID}, s.pairs(c, s.drawn)...)
	args = append(args, s.options("past-hold")...)
	for _, name := range []string{"keep", "repeat"} {
		if s.half(name) {
			args = append(args, "--"+name, s.reason())
		}
	}
	if s.half("by") {
		args = append(args, "--by", s.anyone())
	}
	s.run("", args...)
}

func (s *sequence) takeStep() {
	args := []string{"done", sequenceJob, s.anyHold().ID}
	if s.seldom("at") {
		args = append(args, "--at", s.now.Add(time.Duration(rapid.IntRange(-200, 20).Draw(s.rt, "minutes"))*time.Minute).Format(time.RFC3339))
	}
	s.run("", args...)
}

func (s *sequence) undo() {
	h := rapid.SampledFrom([]string{"work", "energise", "energise", "close", "open-coupler"}).Draw(s.rt, "hold")
	if s.half("newest") { // the one that may be undone
		for _, it := range s.plan.Items() {
			if it.Hold != nil {
				if _, taken := s.job.Steps[it.Hold.ID]; taken {
					h = it.Hold.ID
				}
			}
		}
	}
	args := []string{"undone", sequenceJob, h, "--why", s.reason()}
	if s.seldom("at") {
		args = append(args, "--at", s.now.Add(-time.Duration(rapid.IntRange(0, 200).Draw(s.rt, "minutes"))*time.Minute).Format(time.RFC3339))
	}
	s.run("", args...)
}

func (s *sequence) correctOne() {
	c := s.anyCheck()
	if s.job.State(c.ID).LastJudged() == nil {
		c = s.job.Plan.Checks()[0]
	}
	form := s.job.Input(c, s.now).Form()
	f := rapid.SampledFrom(form).Draw(s.rt, "field")
	value := s.soundAnswer(c, f)
	if value == "" || s.half("nonsense") {
		value = s.nonsense(f)
	}
	args := []string{"correct", sequenceJob, c.ID, f.Key + "=" + value, "--why", s.reason()}
	args = append(args, s.options("keep")...)
	if s.seldom("by") {
		args = append(args, "--by", s.anyone())
	}
	s.run("", args...)
}

func (s *sequence) concedeOne() {
	c := s.anyCheck()
	var open []*plan.Check // taken, and not counting
	for _, st := range s.job.States {
		if a := st.LastJudged(); a != nil && (a.Finding.Verdict != checks.Pass || s.job.Lapsed(st) != "") {
			open = append(open, st.Check)
		}
	}
	if len(open) > 0 && !s.seldom("another") {
		c = rapid.SampledFrom(open).Draw(s.rt, "open")
	}
	engineer := rapid.SampledFrom([]string{"ben", "ben", "bea", "ada", "cleo"}).Draw(s.rt, "engineer")
	if a := s.job.State(c.ID).Last(); a != nil && s.half("own") { // who read it
		engineer = a.Lines[0].By
	}
	s.run("", "accept", sequenceJob, c.ID, "--by", engineer, "--why", s.reason())
}

func (s *sequence) findBad() {
	args := []string{"found-bad", sequenceJob, rapid.SampledFrom(s.plan.Meters).Draw(s.rt, "instrument").ID, "--why", s.reason()}
	if s.seldom("since") {
		args = append(args, "--since", s.now.Add(-time.Duration(rapid.IntRange(0, 200).Draw(s.rt, "minutes"))*time.Minute).Format(time.RFC3339))
	}
	s.run("", args...)
}

func (s *sequence) sign() {
	who := s.anyone()
	for _, e := range s.job.Entries {
		if e.Kind == report.EntryRead && e.By != "ada" && s.half("tester") { // who tests, and is no technician
			who = e.By
		}
	}
	args := []string{"sign", sequenceJob, "--as", s.plan.Person(who).Role, "--by", who, "--key", filepath.Join(s.dir, who), "--yes"}
	if s.half("name stops") {
		args = append(args, "--name-stops")
	}
	s.run("", args...)
}

func (s *sequence) attach() {
	args := []string{"attach", sequenceJob, filepath.Join(s.dir, "photo.txt"), "--caption", "the joint after remaking"}
	if s.half("check") {
		args = append(args, "--check", s.anyCheck().ID)
	}
	s.run("", args...)
}

// readFile takes the readings of a check or two from a file of values.
func (s *sequence) readFile() {
	var text strings.Builder
	w := csv.NewWriter(&text)
	w.Write([]string{"Check", "Field", "Value"})
	c := s.nextCheck()
	list := s.job.Plan.Checks()
	for _, c := range list[slices.Index(list, c):][:min(rapid.IntRange(1, 2).Draw(s.rt, "checks"), len(list)-slices.Index(list, c))] {
		for _, pair := range s.pairs(c, s.drawn) {
			key, value, _ := strings.Cut(pair, "=")
			w.Write([]string{c.ID, key, value})
		}
	}
	w.Flush()
	file := filepath.Join(filepath.Dir(s.book), "values.csv")
	if err := os.WriteFile(file, []byte(text.String()), 0o600); err != nil {
		s.fail("%v", err)
	}
	args := append([]string{"read", sequenceJob, file, "--import", "lines", "--yes"}, s.options("keep", "past-hold")...)
	if s.half("again") {
		args = append(args, "--repeat", s.reason())
	}
	if s.seldom("before") {
		args = append(args, "--before", s.anyHold().ID)
	}
	s.told = append(s.told, text.String())
	if status, _, talk := s.run("", args...); status == exitDone && strings.Contains(talk, "stored") {
		s.reached["read from a file"]++
	}
}

// interjections are what a person types that is no answer.
var interjections = []string{"back", "skip the cable is not there yet", "note the lamp is dim", "keep display read twice and photographed", "repeat looked at all of them again",
	"on", "quit", "done", "", "undone energise a fuse is to be changed", "undone work the earths are off again", "repeat bolts the washer was missing", "repeat present second look at the lamps",
	"repeat dead to be sure", "amend", "not there: no such point on this board", "help", "repeat back counted once more", "done 00:10"}

// walk types lines for the steps that come next, with other words among them.
func (s *sequence) walk() {
	args := []string{"walk", sequenceJob}
	var steps []plan.Item
	it, ok := s.job.Next(s.now)
	if s.seldom("check") || !ok {
		c := s.nextCheck()
		args = append(args, "--check", c.ID)
		steps = []plan.Item{{Check: c}}
	} else {
		items := s.job.Plan.Items()
		at := slices.IndexFunc(items, func(x plan.Item) bool { return x == it })
		steps = items[at:min(len(items), at+rapid.IntRange(1, 4).Draw(s.rt, "steps"))]
	}
	var lines []string
	for _, it := range steps {
		if it.Hold != nil {
			lines = append(lines, "done")
			continue
		}
		if a := s.job.State(it.Check.ID).Last(); a != nil && a.Judged && len(args) > 2 {
			lines = append(lines, s.reason())
		}
		lines = append(lines, s.lines(it.Check)...)
	}
	for range rapid.IntRange(0, 2).Draw(s.rt, "interjections") {
		at := rapid.IntRange(0, len(lines)).Draw(s.rt, "at")
		lines = slices.Insert(lines, at, rapid.SampledFrom(interjections).Draw(s.rt, "interjection"))
	}
	if s.half("leave") {
		lines = append(lines, "quit")
	}
	s.run(strings.Join(lines, "\n")+"\n", args...)
}

// lines are a check's readings as they are typed, a row on a line.
func (s *sequence) lines(c *plan.Check) []string {
	in := s.job.Input(c, s.now)
	wrong := -1
	rows := checks.Rows(slices.DeleteFunc(in.Form(), func(f checks.Field) bool { return f.Sort == checks.MeterUsed || f.Key == "who" })) // those are not asked
	if s.seldom("wrong") {
		wrong = rapid.IntRange(0, len(rows)-1).Draw(s.rt, "row")
	}
	var out []string
	for i, row := range rows {
		var values []string
		open := false
		for _, f := range row {
			_, has := in.Answers[f.Key]
			open = open || !has
			v := s.soundAnswer(c, f)
			if i == wrong {
				v = s.nonsense(f)
			}
			if v != "" {
				values = append(values, v)
			}
		}
		if open {
			out = append(out, strings.Join(values, "; "))
		}
	}
	return out
}
