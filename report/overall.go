package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/records/chain"
	"handback/report/fork"
)

// Overall is the verdict on the whole job.
type Overall struct {
	Ready   bool     // every check passes or is conceded, every step was done, nothing stands against it
	Code    string   // one of chain.Verdicts: what is signed and compared
	Words   string   // in one line, for people
	Against []string // what else stands against it, beside checks and hold points
}

// Overall says whether the plant is ready for service, as far as this record goes.
func (j *Job) Overall(now time.Time) Overall {
	open, stops, conceded := 0, 0, 0
	for _, s := range j.States {
		g, gap := j.gap(s, j.staleAt(s, now))
		switch {
		case g.Stop:
			stops++
			open++
		case gap:
			open++
		case s.IsConceded():
			conceded++
		}
	}
	holds := 0
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if _, ok := j.Steps[it.Hold.ID]; !ok {
			holds++
		}
	}
	against := j.against()
	o := OverallOf(stops, open, holds, conceded, len(against))
	o.Against = against
	return o
}

// Standing is Overall with what the job's signatures are worth: nothing is ready
// above a signature that is not shown to be good.
func (j *Job) Standing(now time.Time) (Overall, error) {
	o := j.Overall(now)
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return o, err
	}
	for _, c := range checked {
		if c.Doubt() != "" {
			o.Against = append(o.Against, fmt.Sprintf("entry %d: the signature is not shown to be good: %s", c.Seq, c.Doubt()))
		}
	}
	if o.Ready && len(o.Against) > 0 {
		against := o.Against
		o = OverallOf(0, 0, 0, 0, len(against))
		o.Against = against
	}
	return o, nil
}

// against lists what stands against the job beside its checks and hold points: a
// plan nobody may work by, a step not done, or done past what its hold waited for or
// against a rule, a judgement that comes out otherwise than it was recorded.
func (j *Job) against() []string {
	out := []string{}
	if len(j.States) == 0 {
		out = append(out, "the plan holds no check")
	}
	out = slices.Concat(out, j.stepsAgainst(), j.defectsAgainst(), j.remarksAgainst(), j.foundAgainst(), j.amendmentsAgainst(), j.telephoneAgainst(), j.forksAgainst())
	for _, p := range j.Plan.Objections() {
		out = append(out, "the plan must not be worked by: "+p.String())
	}
	return append(append(out, j.Differs...), j.unflagged()...)
}

// unflagged are the breaches that no other flag tells.
func (j *Job) unflagged() []string {
	var faults chain.Faults
	for _, b := range j.Breaches() {
		if b.Rule != ruleOrder && b.Rule != ruleHoldWaits {
			faults.Add(b.Words)
		}
	}
	return faults.List()
}

// StandsArea names the cells that say what each check stands as.
const StandsArea = "stands"

// OverallBy chooses the verdict on a job over what its checks stand as; holds is how many
// hold points wait for their step, against how many other points count against it. word
// gives what is shown for one of chain.Verdicts.
func OverallBy(holds, against int, word func(code string) string) calc.Choice {
	shown := func(code string) calc.Choice { return calc.Word(word(code)) }
	some := func(as string) calc.Test { return calc.Count{Area: StandsArea, Word: as, Exactly: -1} }
	closed := calc.Choice(calc.If{Test: some(StandsAccepted), Then: shown(chain.ReadyWithConcessions), Else: shown(chain.Ready)})
	if holds > 0 || against > 0 {
		closed = shown(chain.NotReady)
	}
	return calc.If{Test: some(StandsStop), Then: shown(chain.Stopped), Else: calc.If{Test: some(StandsOpen), Then: shown(chain.NotReady), Else: closed}}
}

// OverallOf is the verdict on a job of so many stops, open checks with those stops among
// them, hold points whose step was not taken, concessions, and other points against it.
func OverallOf(stops, open, holds, conceded, against int) Overall {
	stands := map[string]int{StandsStop: stops, StandsOpen: open - stops, StandsAccepted: conceded}
	code := calc.Decide(OverallBy(holds, against, func(code string) string { return code }),
		func(string) calc.Content { return calc.Content{Counts: stands} })
	o := Overall{Code: code, Ready: code == chain.Ready || code == chain.ReadyWithConcessions}
	counted := ""
	if against > 0 {
		counted = Count(against, "point", "points") + " against it"
	}
	switch code {
	case chain.Stopped:
		o.Words = JoinWords(fmt.Sprintf("STOP: %s, %s open", Count(stops, "stop stands", "stops stand"), Count(open, "check", "checks")), counted)
	case chain.NotReady:
		o.Words = "not ready: " + JoinWords(OpenWords(open, holds), counted)
	case chain.ReadyWithConcessions:
		o.Words = fmt.Sprintf("ready, with %s", Count(conceded, "concession", "concessions"))
	case chain.Ready:
		o.Words = "ready: every check passes"
	}
	return o
}

// Hang is what it hangs on whether a check is closed.
type Hang int

const (
	HangsOnVerdict Hang = iota // closed when it passes
	HangsOnStop                // a stop stands: closed only when that falls and it passes
	Accepted                   // conceded: closed as long as the finding is the one accepted
	HangsOnRecord              // open whatever its verdict: not taken, not complete or stale
)

// hangs tells on what it hangs at a time; see gap.
func (j *Job) hangs(s *State, now time.Time) Hang {
	g, open := j.gap(s, now)
	a := s.LastJudged()
	switch {
	case g.Stop:
		return HangsOnStop
	case !open && s.IsConceded():
		return Accepted
	case open && (a == nil || g.Verdict != a.Finding.Verdict || g.Why != a.Told.Why()):
		return HangsOnRecord
	}
	return HangsOnVerdict
}

// What a check may stand as. These words are handover data.
const (
	StandsOpen     = "open"
	StandsStop     = "stop"
	StandsAccepted = "conceded"
	StandsClosed   = "closed"
	StandsTakenOut = "taken out" // of the plan, by an amendment
)

// StandsBy chooses what a check stands as that hangs on h and came to a verdict, over what
// it comes to. A concession or a stop holds for the verdict it was given for, the former as
// long as nothing was changed.
func StandsBy(h Hang, was checks.Verdict) calc.Choice {
	shows := func(v checks.Verdict) calc.Test { return calc.Shows{Cell: checks.CellVerdict, Word: v.Shown()} }
	rest := calc.If{Test: shows(checks.Pass), Then: calc.Word(StandsClosed), Else: calc.Word(StandsOpen)}
	switch h {
	case HangsOnRecord:
		return calc.Word(StandsOpen)
	case HangsOnStop:
		return calc.If{Test: shows(was), Then: calc.Word(StandsStop), Else: rest}
	case Accepted:
		return calc.If{Test: calc.All{shows(was), calc.Equals{Cell: checks.CellChanged}}, Then: calc.Word(StandsAccepted), Else: rest}
	}
	return rest
}

// Stands tells whether a check with a verdict is closed; see Overall.
func Stands(h Hang, v checks.Verdict) string {
	return calc.Decide(StandsBy(h, v), func(string) calc.Content { return calc.Content{Word: v.Shown()} })
}

// StandsAt is what a check of the job stands as at a time.
func (j *Job) StandsAt(s *State, at time.Time) string {
	if s.Out > 0 {
		return StandsTakenOut
	}
	return Stands(j.hangs(s, j.staleAt(s, at)), s.Verdict())
}

// stepsAgainst lists what stands against a job of its steps: those that were not done,
// those done otherwise than the plan and the rules have it, and what is left over when all
// were done.
func (j *Job) stepsAgainst() []string {
	var out, open []string
	for _, s := range j.OpenSteps() {
		open = append(open, s.ID)
	}
	if n := len(open); n > 0 {
		text := Count(n, "step is", "steps are") + " not done: " + strings.Join(open[:min(n, 3)], ", ")
		if n > 3 {
			text += fmt.Sprintf(" and %d more", n-3)
		}
		out = append(out, text)
	}
	holds := 0
	for _, it := range j.Plan.Items() {
		s := it.Does()
		if s == nil {
			continue
		}
		is, done := j.Steps[s.ID]
		if !done {
			holds++
			continue
		}
		out = slices.Concat(out, is.past(s.ID), is.ahead(s.ID), is.single(s.ID), j.lacks(s))
	}
	if holds == 0 && j.plant != nil {
		for _, l := range j.Plan.Grid().Left(j.Plan.Ends(), j.plant.state, j.plant.memory) {
			out = append(out, "left over at the end: "+j.leftoverWords(l))
		}
	}
	return out
}

// CommandLine is the command line that an error tells to type.
func (j *Job) CommandLine(words ...string) string {
	if j.Hint == nil {
		return "handback " + strings.Join(words, " ")
	}
	return j.Hint(words...)
}

// Joining is another continuation of the job that was joined.
type Joining struct {
	fork.Joined
	Seq int
	At  time.Time
	By  string
}

// join takes up an entry of a join: what one adopts counts as if it stood here itself.
func (j *Job) join(e chain.Entry) error {
	if e.Kind == EntryJoin {
		d, err := fork.ReadJoined(e)
		j.Joins = append(j.Joins, Joining{d, e.Seq, e.At, e.By})
		return err
	}
	is, err := j.Counts(e)
	if err != nil {
		return err
	}
	if j.as == nil {
		j.as = map[int]chain.Entry{}
	}
	j.adopted, j.as[e.Seq] = append(j.adopted, e), is
	return j.apply(is)
}

// Counts is what an entry of the job says: of one that adopts another, that other with its
// own time and person.
func (j *Job) Counts(e chain.Entry) (chain.Entry, error) {
	if is, ok := j.as[e.Seq]; ok {
		return is, nil
	}
	return fork.Counts(e, j.adopted)
}

// Counted are the entries of the job, each as what it says.
func (j *Job) Counted() []chain.Entry {
	if len(j.as) == 0 {
		return j.Entries
	}
	out := slices.Clone(j.Entries)
	for seq, is := range j.as {
		out[seq-1] = is
	}
	return out
}

// judgedAs is the moment that an attempt is judged as of for the first time, at a moment: one
// that was adopted is judged as of its last line.
func (j *Job) judgedAs(a *Attempt, at time.Time) time.Time {
	last := a.Lines[len(a.Lines)-1]
	if _, adopted := j.as[last.Seq]; adopted {
		return last.At
	}
	return at
}

// Forks are the other continuations of the job that are at hand and not joined.
func (j *Job) Forks() []fork.Fork {
	if len(j.Lines) == 0 {
		return j.known
	}
	return fork.Of(j.Entries, j.Lines)
}

// KnownThen says which forks were known of a job as it stood earlier.
func (j *Job) KnownThen(forks []fork.Fork) { j.known = forks }

// ForkWords tell a fork.
func (j *Job) ForkWords(f fork.Fork) string {
	var by []string
	for _, id := range f.By {
		by = append(by, j.PersonName(id))
	}
	text := fmt.Sprintf("parts after entry %d: here %s, there %s (by %s, until %s)", f.After, Count(f.Here, "entry", "entries"), Count(f.There, "entry", "entries"), strings.Join(by, ", "), Stamp(f.Until))
	switch {
	case f.Superseded > 0:
		text += fmt.Sprintf("; entry %d there joined all of this side: go on there", f.Superseded)
	case f.Undecided < f.There:
		text += fmt.Sprintf("; %s there came after a join", Count(f.Undecided, "entry", "entries"))
	}
	return text
}

// forksAgainst are the forks: nothing is ready that somebody else went on with.
func (j *Job) forksAgainst() []string {
	var out []string
	for _, f := range j.Forks() {
		out = append(out, "somebody else went on with the job: it "+j.ForkWords(f))
	}
	for _, x := range j.Joins {
		for _, l := range j.stillLost(x) {
			if l.Stop {
				out = append(out, lostWords(x, l))
			}
		}
	}
	return out
}

// forkFlags tell the forks, and what was joined.
func (j *Job) forkFlags() []Flag {
	var out []Flag
	for _, f := range j.Forks() {
		out = append(out, Flag{Seq: f.After, What: FlagFork, Text: "the job " + j.ForkWords(f), Open: true})
	}
	for _, x := range j.Joins {
		out = append(out, Flag{Seq: x.Seq, What: FlagFork, Text: "joined by " + j.PersonName(x.By) + ": " + joinWords(x.Joined)})
		for _, l := range x.Lost {
			out = append(out, Flag{Seq: x.Seq, Check: l.Check, What: FlagFork, Open: slices.Contains(j.stillLost(x), l), Text: lostWords(x, l)})
		}
	}
	return out
}

// adoptedWords is EntryWords of the entries of a join.
func adoptedWords(e chain.Entry) string {
	switch e.Kind {
	case EntryAdopt:
		a, was, err := fork.ReadAdopted(e)
		is, bad := fork.Counts(e, nil)
		if err == nil && bad == nil {
			return fmt.Sprintf("adopts entry %d of another continuation, %s, made %s by %s: %s", was.Seq, ShortHash(was.Hash), Stamp(is.At), is.By, EntryWords(is)) + because(a.Why)
		}
	case EntryJoin:
		if d, err := fork.ReadJoined(e); err == nil {
			return joinWords(d)
		}
	}
	return "cannot be read"
}

// joinWords tell a join.
func joinWords(d fork.Joined) string {
	adopted := 0
	for _, x := range d.Entries {
		if x.Adopted > 0 {
			adopted++
		}
	}
	return fmt.Sprintf("the continuation that parts after entry %d, head %s: %s adopted, %d left", d.After, ShortHash(d.Head), Count(adopted, "entry", "entries"), len(d.Entries)-adopted)
}

// MayJoin says why a person may not join two continuations, nil when they may.
func (j *Job) MayJoin(by string) error {
	_, err := j.engineer(by, "is no engineer of the plan: which of two continuations counts, an engineer decides")
	return err
}
