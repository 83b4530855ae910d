package cmd

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// standsAs is how a device stands, by the ledger.
type standsAs struct {
	closed, racked bool // racked out
	locks          []string
}

// stepLedger follows the devices of section_b.yaml by what its entries say alone. It
// knows nothing of networks: section B is live over the incomer or the coupler, and
// earthed by E1.
type stepLedger struct {
	is     map[string]standsAs
	proved time.Time // section B, zero for not
	permit bool
}

func newStepLedger() *stepLedger {
	return &stepLedger{is: map[string]standsAs{"q2": {closed: true}, "tie": {}, "e1": {}}}
}

func (l *stepLedger) live() bool {
	return l.is["q2"].closed && !l.is["q2"].racked || l.is["tie"].closed && !l.is["tie"].racked
}

// does follows one act and says what is wrong with it (EN 50110-1: no earth before the
// proof, nothing changes under a permit; a lock is the life of somebody).
func (l *stepLedger) does(act, device, lock string, at time.Time) string {
	d := l.is[device]
	before := l.live() && l.is["e1"].closed
	wrong := ""
	if act != "lock" && act != "unlock" && device != "" && len(d.locks) > 0 {
		wrong = "a locked device is moved"
	}
	if device != "" && l.permit {
		wrong = "a device is changed under a permit"
	}
	switch act {
	case "close", "earth-on":
		if d.closed = true; act == "earth-on" && (l.proved.IsZero() || at.Sub(l.proved) > 30*time.Minute || l.live()) {
			wrong = "an earth without a proof"
		}
	case "open", "earth-off":
		d.closed = false
	case "withdraw":
		d.racked = true
	case "put-in-service":
		d.racked = false
	case "lock":
		d.locks = append(slices.Clone(d.locks), lock)
	case "unlock":
		d.locks = slices.DeleteFunc(slices.Clone(d.locks), func(x string) bool { return x == lock })
	case "issue":
		if l.permit = true; l.live() || len(l.is["q2"].locks) == 0 || len(l.is["tie"].locks) == 0 {
			wrong = "a permit over what is not secured"
		}
	case "cancel":
		l.permit = false
	}
	if device != "" {
		l.is[device] = d
	}
	if l.live() || act == "earth-off" {
		l.proved = time.Time{}
	}
	if l.live() && l.is["e1"].closed && !before {
		wrong = "section B is live and earthed"
	}
	return wrong
}

// back is the act that takes each act back.
var back = map[string]string{"open": "close", "close": "open", "withdraw": "put-in-service", "put-in-service": "withdraw",
	"earth-on": "earth-off", "earth-off": "earth-on", "lock": "unlock", "unlock": "lock"}

// entry follows an entry of the record.
func (l *stepLedger) entry(t *testing.T, j *report.Job, e chain.Entry) string {
	act := func(id string, undone bool, lock string, when string) string {
		s := j.Plan.Step(id)
		at, err := time.Parse(time.RFC3339, when)
		if err != nil {
			t.Fatal(err)
		}
		does := string(s.Act)
		if undone {
			does = back[does]
		}
		if lock == "" {
			lock = s.Lock
		}
		return l.does(does, map[bool]string{true: "", false: s.Device}[does == "tag"], lock, at)
	}
	switch e.Kind {
	case report.EntryStep:
		d, _ := report.Decode[report.Stepped](e)
		return act(d.ID(), false, d.Lock, d.Taken)
	case report.EntryUndo:
		d, _ := report.Decode[report.Undone](e)
		return act(d.ID(), true, "", d.Done)
	case report.EntryFound:
		d, _ := report.Decode[report.FoundSo](e)
		l.is[d.Device] = standsAs{d.Position == "closed", d.Place == "withdrawn", d.Locks}
		l.permit = l.permit && !l.live() // what it breaks is broken, and the ledger asks no more of it
		if l.live() || !l.is["e1"].closed || !l.is["q2"].racked || !l.is["tie"].racked {
			l.proved = time.Time{}
		}
	case report.EntryJudge:
		if d, _ := report.Decode[report.Judged](e); e.Check == "dead" && d.Verdict == checks.Pass {
			l.proved = e.At
		}
	}
	return ""
}

// Drawn sequences of steps done, left, undone and found: none that a command takes leaves
// section B live and earthed, moves a locked device, or changes what a permit counts on.
func TestSequences_steps(t *testing.T) {
	outside.Long(t)
	plan := filepath.Join(scripts, "shared", "section_b.yaml")
	reached := map[string]int{}
	for seed := range max(8, *sequences/50) {
		r := rand.New(rand.NewPCG(uint64(seed), 26))
		book, told := filepath.Join(t.TempDir(), "book.db"), ""
		now := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
		run := func(args ...string) int {
			var out bytes.Buffer
			env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return now }, Book: book, Program: "test", Random: rand.NewChaCha8([32]byte{byte(seed)})}
			status := Main(args, env)
			told += fmt.Sprintf("%s  %s\n  [%d] %s", now.Format("15:04"), strings.Join(args, " "), status, out.String())
			return status
		}
		if run("open", plan) != exitDone {
			t.Fatal(told)
		}
		const job = "section-b-1"
		ledger, seen := newStepLedger(), 0
		for range 45 {
			now = now.Add(time.Duration(1+r.IntN(4)) * time.Minute)
			j := jobOf(t, book, job)
			args := drawnStep(r, j, now)
			status := run(args...)
			j = jobOf(t, book, job)
			for _, e := range j.Entries[seen:] {
				if wrong := ledger.entry(t, j, e); wrong != "" {
					t.Fatalf("seed %d: %s\n%s", seed, wrong, told)
				}
				reached[e.Kind]++
			}
			seen = len(j.Entries)
			if status == exitFailed {
				reached["refused"]++
			}
			for id, want := range ledger.is {
				is, _ := j.StandingOf(id)
				got := standsAs{is.Pos == "closed", is.Place == "withdrawn", is.Locks}
				slices.Sort(want.locks)
				if got.closed != want.closed || got.racked != want.racked || !slices.Equal(got.locks, want.locks) {
					t.Fatalf("seed %d: %s stands as %+v, the ledger has %+v\n%s", seed, id, got, want, told)
				}
			}
			if _, closed := j.Steps["close"]; closed {
				reached["closed"]++
			}
		}
		if status := run("verify", job); status != exitDone {
			t.Fatalf("seed %d: verify ends with status %d\n%s", seed, status, told)
		}
	}
	for _, what := range []string{report.EntryStep, report.EntryUndo, report.EntryLeft, report.EntryFound, "refused", "closed"} {
		if reached[what] == 0 {
			t.Errorf("no sequence reached %q: %v", what, reached)
		}
	}
}

func jobOf(t *testing.T, book, job string) *report.Job {
	t.Helper()
	env := session.System()
	env.Book = book
	s, err := session.OpenRead(context.Background(), &env, job)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	return s.Job
}

// drawnStep draws a command: mostly the next item of the plan, sometimes anything.
func drawnStep(r *rand.Rand, j *report.Job, now time.Time) []string {
	var steps []string
	for _, it := range j.Plan.Items() {
		if s := it.Does(); s != nil {
			steps = append(steps, s.ID)
		}
	}
	any := steps[r.IntN(len(steps))]
	clock := func(ago int) string { return now.Add(-time.Duration(ago) * time.Minute).Format("15:04:05") }
	prove := []string{"enter", j.ID, "dead", "tester=tester", "source=unit", "before=live", "before_at=" + clock(0), "l1e=not live", "l2e=not live", "l3e=not live", "l1l2=not live", "l2l3=not live", "l3l1=not live", "points_at=" + clock(0), "after=live", "after_at=" + clock(0)}
	prove[6], prove[13] = "before_at="+now.Add(-40*time.Second).Format("15:04:05"), "points_at="+now.Add(-20*time.Second).Format("15:04:05")
	if len(j.State("dead").Attempts) > 0 {
		prove = append(prove, "--repeat", "the plant was changed since")
	}
	switch n := r.IntN(100); {
	case n < 5:
		return []string{"left", j.ID, any, "--why", "it is done later"}
	case n < 10:
		return []string{"undone", j.ID, any, "--why", "it was too early"}
	case n < 17 && len(j.Done) > 0:
		return []string{"undone", j.ID, j.Done[len(j.Done)-1].Did.ID(), "--why", "it was too early"}
	case n < 21:
		device := []string{"q2", "tie", "e1"}[r.IntN(3)]
		return []string{"found", j.ID, device, "position=" + []string{"open", "closed"}[r.IntN(2)], "--why", "found so on the round"}
	case n < 26:
		return prove
	case n < 34:
		return []string{"done", j.ID, any, "--confirmed", "jonas"}
	}
	it, ok := j.Next(now)
	switch {
	case !ok:
		return []string{"done", j.ID, any, "--confirmed", "jonas"}
	case it.Check != nil && it.Check.ID == "dead":
		return prove
	case it.Check != nil:
		return []string{"enter", j.ID, it.Check.ID, "who=mira", "s1=yes"}
	}
	return []string{"done", j.ID, it.ID(), "--confirmed", "jonas"}
}
