package cmd

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// ledger keeps, entry by entry, what the rules of work on plant allow to count. It is
// written from the rules and the plan of return.yaml alone and asks nothing of report:
//
//   - dead is what was proved after the plant was made dead last;
//   - work begins behind its hold, on plant that is dead;
//   - accounted for is what was counted after the last work and after it was begun last;
//   - live readings count for the time the plant was on without a break;
//   - a step is taken when all it needs counts, and nothing frees it of a stop;
//   - nobody accepts a proof of dead, or what they read or left out themselves;
//   - what an amendment changed waits for an engineer, an open defect for what was done;
//   - an engineer's order waits for a newer attempt, or for the step done again, an
//     engineer's question for another's answer, and what lies below waits with them.
type ledger struct {
	plan   *plan.Plan
	steps  map[string]lawStep
	undone map[string]int // by hold, the entry that undid its step last
	taken  map[string][]*lawAttempt
	bad    []lawBad

	skips   map[string]lawSkip // by check, the skip that stands
	defects map[int]string     // open ones by number, with the hold they keep
	remarks map[int]lawRemark  // orders and questions that wait, by number
	amended lawPlan
	newest  time.Time     // of the entries
	back    time.Duration // by how much the clock was set back so far, all in all
}

type lawStep struct {
	seq int
	at  time.Time
}

type lawBad struct {
	seq    int
	serial string
	since  time.Time
}

type lawAttempt struct {
	number, begun  int
	back           time.Duration // set back before it was begun
	lines          []lawLine
	answers        checks.Answers
	hands          []string // who read or corrected
	judged, first  int      // entries of the newest and the first judgement
	at             time.Time
	verdict        checks.Verdict
	stop           string
	corrected      int // the newest correction
	past           int // the newest line read behind a hold that stood
	accepted       int // the concession that accepts it
	left           string
	deadByBookWork bool // a live point that was put right with the pen
}

type lawLine struct {
	seq int
	at  time.Time
}

// The parts of return.yaml, told here a second time on purpose.
var (
	lawOff   = []string{"dead", "taps", "bolts", "back"}
	lawWork  = []string{"taps", "bolts"}
	lawAbove = map[string][]string{ // the hold points above each check
		"dead": {}, "taps": {"work"}, "bolts": {"work"}, "back": {"work"},
		"present": {"work", "energise"}, "hv": {"work", "energise"}, "lv": {"work", "energise"}, "sync": {"work", "energise"},
		"share": {"work", "energise", "close"}, "after": {"work", "energise", "close", "open-coupler"}, "states": {"work", "energise", "close", "open-coupler"},
	}
	lawNeeds = map[string][]string{ // at least
		"work": {"dead"}, "energise": {"dead", "taps", "bolts", "back"},
		"close":        {"dead", "taps", "bolts", "back", "present", "lv", "sync"},
		"open-coupler": {"dead", "taps", "bolts", "back", "present", "hv", "lv", "sync", "share"},
	}
	lawOnTap = []string{"lv", "share"}
)

func newLedger(p *plan.Plan) *ledger {
	return &ledger{plan: p, steps: map[string]lawStep{}, undone: map[string]int{}, taken: map[string][]*lawAttempt{},
		skips: map[string]lawSkip{}, defects: map[int]string{}, remarks: map[int]lawRemark{}, amended: lawPlan{limit: "11.2", decided: "11.2"}}
}

func (l *ledger) last(check string) *lawAttempt {
	if n := len(l.taken[check]); n > 0 {
		return l.taken[check][n-1]
	}
	return nil
}

// follow takes up an entry, and says which rule it breaks.
func (l *ledger) follow(e chain.Entry) string {
	l.back += max(0, l.newest.Sub(e.At))
	l.newest = e.At
	switch e.Kind {
	case report.EntryRead:
		var r report.Read
		return l.broken(chain.DecodeStrict(e.Data, &r), func() string { return l.read(e, r) })
	case report.EntryJudge:
		var j report.Judged
		return l.broken(chain.DecodeStrict(e.Data, &j), func() string {
			a := l.last(e.Check)
			if a.judged == 0 {
				a.first, a.at = e.Seq, e.At
				a.left = l.leftTaps()
				l.repeated(e.Check, a.number)
			}
			a.judged, a.verdict = e.Seq, j.Verdict
			if e.Check == "dead" && a.stop != "" && strings.Contains(a.stop, "live: L") && j.Stop == nil {
				a.deadByBookWork = true
			}
			a.stop = j.Stopping()
			return ""
		})
	case report.EntryCorrect:
		var c report.Corrected
		return l.broken(chain.DecodeStrict(e.Data, &c), func() string {
			a := l.last(e.Check)
			maps.Copy(a.answers, c.Answers)
			a.corrected, a.hands = e.Seq, append(a.hands, e.By)
			return ""
		})
	case report.EntryConcede:
		var c report.Conceded
		return l.broken(chain.DecodeStrict(e.Data, &c), func() string { return l.concede(e, c) })
	case report.EntryStep:
		var st report.Stepped
		return l.broken(chain.DecodeStrict(e.Data, &st), func() string { return l.step(e, st) })
	case report.EntryUndo:
		var u report.Undone
		return l.broken(chain.DecodeStrict(e.Data, &u), func() string {
			delete(l.steps, u.Hold)
			l.undone[u.Hold] = e.Seq
			return ""
		})
	case report.EntryBad:
		var b report.FoundBad
		return l.broken(chain.DecodeStrict(e.Data, &b), func() string {
			since, err := time.Parse(time.RFC3339, b.Since)
			l.bad = append(l.bad, lawBad{e.Seq, b.Serial, since})
			return l.broken(err, func() string { return "" })
		})
	}
	return l.open(e)
}

func (l *ledger) broken(err error, then func() string) string {
	if err != nil {
		return err.Error()
	}
	return then()
}

func (l *ledger) leftTaps() string {
	a := l.last("taps")
	if a == nil || a.judged == 0 {
		return ""
	}
	return a.answers["left_l1"].Word + a.answers["left_l2"].Word + a.answers["left_l3"].Word
}

// read follows a line: no door lets it in where the state of the plant forbids it.
func (l *ledger) read(e chain.Entry, r report.Read) string {
	if why := l.forbidden(e.Check); why != "" {
		return why
	}
	a := l.last(e.Check)
	if a == nil || a.judged > 0 {
		a = &lawAttempt{number: r.Attempt, begun: e.Seq, back: l.back, answers: checks.Answers{}}
		l.taken[e.Check] = append(l.taken[e.Check], a)
	}
	stands := ""
	for _, h := range lawAbove[e.Check] {
		if _, taken := l.steps[h]; !taken && stands == "" {
			stands = h
		}
	}
	if stands != "" {
		if r.PastHold == "" && a.past == 0 {
			return "it was read behind hold " + stands + ", which stands, and no reason is recorded"
		}
		a.past = e.Seq
	}
	delete(l.skips, e.Check)
	a.lines = append(a.lines, lawLine{e.Seq, e.At})
	a.hands = append(a.hands, e.By)
	maps.Copy(a.answers, r.Answers)
	return ""
}

// forbidden says why no reading of a check may be recorded in the state of the plant.
func (l *ledger) forbidden(check string) string {
	if !slices.Contains(lawOff, check) {
		return ""
	}
	if _, on := l.steps["energise"]; on {
		return "the plant is energised"
	}
	if check == "dead" {
		return ""
	}
	if why := l.notDead(); why != "" {
		return why
	}
	if st, begun := l.steps["work"]; begun && st.seq < l.undone["energise"] {
		return "the work was begun before the plant was live last"
	}
	if check == "back" {
		for _, w := range lawWork {
			if a := l.last(w); a == nil || a.judged == 0 {
				return w + " is not done: nothing can be accounted for"
			}
		}
	}
	return ""
}

// notDead says why the plant counts as live.
func (l *ledger) notDead() string {
	a := l.last("dead")
	switch {
	case a == nil || a.judged == 0:
		return "the plant was not proved dead"
	case a.verdict != checks.Pass || a.stop != "":
		return "the proof of dead came to " + a.verdict.String()
	case a.begun < l.undone["energise"]:
		return "the plant was live since it was proved dead"
	case l.ordered("dead"):
		return "the proof of dead is ordered to be made again"
	case a.past > 0:
		return "the proof of dead was read behind a hold"
	case a.deadByBookWork:
		return "a live point was made dead with the pen"
	}
	if b := l.badIn(a); b != nil {
		return "the plant was proved dead with an instrument that is bad"
	}
	return ""
}

// badIn is the newest finding against an instrument that gave part of an attempt.
func (l *ledger) badIn(a *lawAttempt) *lawBad {
	for i := range slices.Backward(l.bad) {
		b := &l.bad[i]
		for _, key := range []string{"meter", "clamp", "tool", "tester", "source"} {
			m := l.plan.Meter(a.answers[key].Word)
			if m == nil || m.Serial != b.serial {
				continue
			}
			for _, line := range a.lines {
				if line.seq > b.seq || !line.at.Before(b.since) {
					return b
				}
			}
		}
	}
	return nil
}

// concede follows an acceptance: only who may accept does.
func (l *ledger) concede(e chain.Entry, c report.Conceded) string {
	a := l.last(e.Check)
	p := l.plan.Person(c.Engineer)
	if c.Skip > 0 {
		return l.concedeSkip(e, c)
	}
	switch {
	case a == nil || a.judged == 0 || a.number != c.Attempt:
		return "nothing is there to accept"
	case e.Check == "dead":
		return "a proof of dead was accepted"
	case p == nil || p.Role != "engineer":
		return c.Engineer + " accepted it, who is no engineer"
	case slices.Contains(a.hands, c.Engineer) || a.answers["who"].Word == c.Engineer:
		return c.Engineer + " accepted a reading of their own"
	case l.ordered(e.Check):
		return "it was accepted while its repeat is ordered"
	case len(strings.TrimSpace(c.Reason)) < 4:
		return "it was accepted without a reason"
	}
	a.accepted = e.Seq
	return ""
}

// step follows a step that was taken: all it needs counts.
func (l *ledger) step(e chain.Entry, st report.Stepped) string {
	at, err := time.Parse(time.RFC3339, st.Taken)
	if err != nil {
		return err.Error()
	}
	for _, h := range []string{"work", "energise", "close", "open-coupler"} {
		if h == st.Hold {
			break
		}
		if _, taken := l.steps[h]; !taken {
			return "it was taken before that of hold " + h
		}
	}
	if _, on := l.steps["energise"]; on && st.Hold == "work" {
		return "work was begun on plant that is energised"
	}
	if why := l.remarkAbove(st.Hold); why != "" {
		return "it was taken, but " + why
	}
	if why := l.heldBy(st.Hold); why != "" {
		return "it was taken, but " + why
	}
	for _, c := range lawNeeds[st.Hold] {
		if why := l.doubt(c); why != "" {
			return "it was taken, but " + c + ": " + why
		}
	}
	if why := l.notDead(); st.Hold == "work" && why != "" {
		return "it was taken, but " + why
	}
	if why := l.stale(st.Hold, at); why != "" {
		return "it was taken, but " + why
	}
	l.steps[st.Hold] = lawStep{seq: e.Seq, at: at}
	l.repeated(st.Hold, 1)
	return ""
}

// stale says what no longer shows, at a time, what the step needs to be shown freshly.
func (l *ledger) stale(hold string, at time.Time) string {
	switch hold {
	case "work":
		a := l.last("dead")
		if age := at.Sub(a.answers["after_at"].Time()) + l.back - a.back; age > time.Hour {
			return fmt.Sprintf("dead was proved %s ago", age)
		}
	case "close":
		a := l.last("sync")
		if l.skips["sync"].accepted {
			return ""
		}
		if age := at.Sub(a.answers["at"].Time()) + l.back - a.back; a.accepted < a.judged && age > 5*time.Minute {
			return fmt.Sprintf("the sides were compared %s ago", age)
		}
	}
	return ""
}

// doubt says why a check does not count, "" when it does.
func (l *ledger) doubt(check string) string {
	a := l.last(check)
	switch {
	case a != nil && a.stop != "":
		return "a stop stands: " + a.stop
	case l.skips[check].accepted:
		return ""
	case a == nil:
		return "it was not taken"
	case l.skips[check].seq > a.first:
		return "it was left out"
	case l.undecided(check, a) != "":
		return l.undecided(check, a)
	case a.judged == 0:
		return "it is begun, not judged"
	case a.corrected > a.judged:
		return "it was corrected and not judged again"
	case a.deadByBookWork:
		return "a live point was made dead with the pen"
	case a.verdict != checks.Pass && a.accepted < a.judged:
		return "it came to " + a.verdict.String() + " and nobody accepted it"
	case a.past > 0 && a.accepted < a.past:
		return "it was read behind a hold and nobody accepted it"
	case check == "dead" && a.accepted > 0:
		return "a proof of dead was accepted"
	}
	if b := l.badIn(a); b != nil && a.accepted < b.seq {
		return "its instrument was found bad"
	}
	for _, h := range lawAbove[check] {
		if !slices.Contains(lawOff, check) && l.undone[h] > a.begun {
			return "the step of hold " + h + " was undone since"
		}
	}
	if left := l.leftTaps(); slices.Contains(lawOnTap, check) && l.last("taps") != nil && l.last("taps").first > a.first && left != a.left {
		return "the taps were moved since"
	}
	if check != "back" {
		return ""
	}
	for _, w := range lawWork {
		if x := l.last(w); x != nil && x.begun > a.begun {
			return w + " was taken again since the count"
		}
	}
	if l.steps["work"].seq > a.begun {
		return "the work was begun again since the count"
	}
	return ""
}

// notReady says why the plant is not ready for service by these rules.
func (l *ledger) notReady() string {
	for _, h := range slices.Sorted(maps.Keys(lawNeeds)) {
		if _, taken := l.steps[h]; !taken {
			return "the step of hold " + h + " was not taken"
		}
	}
	if why := l.openPoint(); why != "" {
		return why
	}
	for _, c := range l.plan.Checks() {
		if why := l.doubt(c.ID); why != "" {
			return c.ID + ": " + why
		}
	}
	return ""
}
