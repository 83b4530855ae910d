package report_test

import (
	"bytes"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/report"
	"handback/testdata/rig"
)

// sectionB is a job on a bar section between a coupler and an incomer, an invented piece
// of plant; its steps are in testdata/scripts/shared/section_b.yaml.
func sectionB(t *testing.T) *rig.Rig {
	t.Helper()
	return rig.Of(t, "section_b.yaml", sectionText(t))
}

func sectionText(t *testing.T) []byte {
	t.Helper()
	data, err := os.ReadFile("../testdata/scripts/shared/section_b.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return bytes.Replace(data, []byte("id: mira"), []byte("id: ada"), 1) // as the rig calls its technician
}

// did records steps as done now, whatever the rules say of them.
func did(r *rig.Rig, ids ...string) {
	for _, id := range ids {
		d := report.Stepped{Step: id, Action: r.Plan.Step(id).Action, Taken: r.Now.Format(time.RFC3339), Confirmed: "jonas"}
		if r.Plan.Hold(id) != nil {
			d.Hold, d.Step = id, ""
		}
		r.Put(report.EntryStep, "", d)
	}
}

func nodeNow(t *testing.T, j *report.Job, id string) network.NodeView {
	t.Helper()
	v, _, ok := j.PlantView(j.Head().At)
	if !ok {
		t.Fatal("the plan has a network, and the job no plant")
	}
	return v.Node(id)
}

// proof is what is read when section B is dead.
func proof(r *rig.Rig) rig.Typed {
	said := rig.Typed{"tester": "tester", "source": "unit", "before": "live", "after": "live"}
	for _, point := range []string{"l1e", "l2e", "l3e", "l1l2", "l2l3", "l3l1"} {
		said[point] = "not live"
	}
	for i, at := range []string{"after_at", "points_at", "before_at"} {
		said[at] = r.Now.Add(-time.Duration(i) * time.Minute).Format("15:04:05")
	}
	return said
}

// A step that another hand recorded against a rule was done all the same: the plant is
// followed, and the record says what is wrong with it (EN 50110-1: no earth before the
// absence of voltage was verified).
func TestStep_againstRule(t *testing.T) {
	r := sectionB(t)
	did(r, "earth")
	j := r.Job()
	if is, _ := j.StandingOf("e1"); is.Pos != network.Closed {
		t.Errorf("E1 is %s after it was put on", is.Pos)
	}
	broken := []string{}
	for _, b := range j.Steps["earth"].Broken {
		broken = append(broken, string(b.Rule))
	}
	if want := []string{"live_earth", "not_isolated", "not_proved"}; !cmp.Equal(broken, want) {
		t.Errorf("broken are %q, want %q", broken, want)
	}
	var flags []string
	for _, f := range j.Flags(r.Now) {
		flags = append(flags, f.What)
	}
	if want := []string{report.FlagOrder, report.FlagRule, report.FlagEntry}; !cmp.Equal(flags, want) {
		t.Errorf("flags are %q, want %q", flags, want)
	}
	if f := strings.Join(j.RuleFaults(), "\n"); !strings.Contains(f, "entry 2: the step earth was done against the rules live_earth, not_isolated, not_proved") {
		t.Errorf("faults are %q", f)
	}
	if o := j.Overall(r.Now); o.Ready || !slices.ContainsFunc(o.Against, func(s string) bool { return strings.Contains(s, "before open-q2") }) {
		t.Errorf("overall is %+v", o)
	}
}

// Nobody beside who did it: a step that wants two, and a document that is not undone.
func TestStep_byAnotherHand(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2")
	r.Put(report.EntryStep, "", report.Stepped{Step: "rack-q2", Action: r.Plan.Step("rack-q2").Action, Taken: r.Now.Format(time.RFC3339), Confirmed: r.By})
	if !r.Job().Steps["rack-q2"].Alone {
		t.Error("who did it confirms it")
	}
	did(r, "lock-q2", "rack-tie", "lock-tie", "tag", "tell", "earth", "begin")
	r.Put(report.EntryUndo, "", report.Undone{Hold: "begin", Done: r.Now.Format(time.RFC3339), Why: "taken back"})
	if f := strings.Join(r.Job().RuleFaults(), "\n"); !strings.Contains(f, "the step begin was undone, and nothing undoes what it did") {
		t.Errorf("faults are %q", f)
	}
}

// A pass proves its node dead until a later judgement does not pass, or the node is live.
func TestProof_followsJudgements(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2", "rack-q2", "lock-q2", "rack-tie", "lock-tie")
	proved := func(want bool, after string) {
		t.Helper()
		if is := nodeNow(t, r.Job(), "bar-b").Proved; is != want {
			t.Errorf("after %s section B is proved: %v", after, is)
		}
	}
	proved(false, "the steps")
	r.Want(r.Take("dead", proof(r)), checks.Pass)
	proved(true, "the proof")
	live := proof(r)
	live["l2e"] = "live"
	r.Read("dead", live, nil, "to be sure")
	r.Judge("dead", "")
	proved(false, "a point read live")
	r.Read("dead", proof(r), nil, "the lead was on another conductor")
	r.Judge("dead", "")
	proved(true, "another proof")
	r.Put(report.EntryBad, "", report.FoundBad{Serial: "D1", Since: r.Now.Add(-time.Hour).Format(time.RFC3339), Why: "lamp is cracked"})
	proved(false, "the tester was found bad")
}

// What an entry adds to a job that grew is what folding all of them makes.
func TestPlant_grownAsFolded(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2", "rack-q2", "lock-q2", "rack-tie", "lock-tie", "tag", "tell")
	r.Want(r.Take("dead", proof(r)), checks.Pass)
	did(r, "earth", "begin", "clear", "cancel", "earth-off")
	r.Put(report.EntryUndo, "", report.Undone{Step: "earth-off", Done: r.Now.Format(time.RFC3339), Why: "one joint more"})
	r.Put(report.EntryFound, "", report.FoundSo{Device: "tie", Position: "closed", Place: "service", Locks: []string{}, Seen: r.Now.Format(time.RFC3339), Why: "found so on the round"})
	all := r.Job().Entries
	grown, err := report.Fold(r.Plan, all[:1])
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range all[1:] {
		if err := grown.Add(e); err != nil {
			t.Fatal(err)
		}
		folded, err := report.Fold(r.Plan, all[:i+2])
		if err != nil {
			t.Fatal(err)
		}
		a, sa, _ := grown.PlantView(e.At)
		b, sb, _ := folded.PlantView(e.At)
		if diff := cmp.Diff(a, b) + cmp.Diff(sa, sb); diff != "" {
			t.Fatalf("after entry %d (-grown +folded):\n%s", e.Seq, diff)
		}
	}
	if n := nodeNow(t, grown, "bar-b"); len(n.Live) != 1 || len(n.Earths) != 1 {
		t.Errorf("section B is live from %q and earthed by %q, want one of each", n.Live, n.Earths)
	}
}

// An amendment puts a drawing right, not the plant: a device that a step moved stands as
// the step left it, one that nothing moved as the new drawing has it. Worked out by hand:
// over the closed coupler, feeder 1 holds section B live although Q2 is withdrawn.
func TestAmend_position(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2", "rack-q2")
	if n := nodeNow(t, r.Job(), "bar-b"); len(n.MayLive) > 0 {
		t.Fatalf("section B is %+v with Q2 withdrawn and the coupler open", n)
	}
	coupler, incomer := "between: [bar-a, bar-b], position: ", "between: [t2-lv, bar-b], position: "
	putBy(r, "jonas", report.EntryAmend, "", amendedFrom(r, string(sectionText(t)), "the coupler stood closed all along", coupler+"open", coupler+"closed", incomer+"closed", incomer+"open"))
	j := r.Job()
	if n := nodeNow(t, j, "bar-b"); !cmp.Equal(n.Live, []string{"feed-1"}) {
		t.Errorf("section B is %+v over the closed coupler", n)
	}
	if is, _ := j.StandingOf("q2"); is.Place != network.Withdrawn || is.Pos != network.Open {
		t.Errorf("Q2 stands %+v after it was opened and withdrawn", is)
	}
	if _, done := j.Steps["open-q2"]; !done || len(j.Steps) != 2 {
		t.Errorf("done are %+v", j.Steps)
	}
}

// What a step moved an amendment moves no more, and a step that is taken out of the plan
// holds nothing any longer.
func TestAmend_steps(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2", "rack-q2")
	waits := func() bool {
		j := r.Job()
		return slices.ContainsFunc(j.Gaps(j.Plan.Hold("begin"), r.Now), func(g report.Gap) bool { return g.Step == "tag" })
	}
	if !waits() {
		t.Fatal("begin does not wait for the notice")
	}
	tag, rack := "  - {step: tag, act: tag, device: tie}\n", "  - {step: rack-q2, act: withdraw, device: q2, confirm: yes, section: \"4.2\"}\n"
	putBy(r, "jonas", report.EntryAmend, "", amendedFrom(r, string(sectionText(t)), "the coupler carries a notice of its own", tag, ""))
	if waits() {
		t.Error("begin waits for a notice that an engineer took out of the plan")
	}
	if o := r.Job().OpenSteps(); slices.ContainsFunc(o, func(s *plan.Step) bool { return s.ID == "tag" }) {
		t.Error("the notice is still to be hung")
	}
	without := amendedFrom(r, "", "Q2 was never withdrawn", rack, "")
	p, err := plan.Load("section_b.yaml", []byte(without.Plan))
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Job().MayAmend(p); err == nil || !strings.Contains(err.Error(), "step rack-q2") {
		t.Errorf("a step that was done is taken out: %v", err)
	}
}

// A step that another hand recorded while a defect held it was done past it, and says so.
func TestStep_pastDefect(t *testing.T) {
	r := sectionB(t)
	r.Put(report.EntryDefect, "", report.Raised{Defect: 1, What: "handle of Q2 bent", Holds: "open-q2"})
	did(r, "open-q2")
	j := r.Job()
	if open := j.Steps["open-q2"].Open; len(open) != 1 || open[0].Name() != "defect 1" {
		t.Errorf("it waited for %+v", open)
	}
	if !slices.ContainsFunc(j.Flags(r.Now), func(f report.Flag) bool { return f.What == report.FlagPastHold && f.Open }) {
		t.Errorf("no flag says it was done past a defect: %+v", j.Flags(r.Now))
	}
	if want := "entry 3: the step open-q2 was done while it waited for defect 1"; !slices.Contains(j.RuleFaults(), want) {
		t.Errorf("faults %q, want %q", j.RuleFaults(), want)
	}
}

// A device found otherwise withholds the job until an engineer accepts that or records it;
// an acceptance that no command writes accepts nothing and is named.
func TestFound_accepted(t *testing.T) {
	const against = "the coupler found closed, recorded was open (entry 2): not accepted by an engineer"
	found := func(r *rig.Rig, by string) {
		r.By = by
		r.Put(report.EntryFound, "", report.FoundSo{Device: "tie", Position: "closed", Place: "service", Locks: []string{}, Seen: r.Now.Format(time.RFC3339), Why: "found so on the round"})
	}
	accepted := func(r *rig.Rig, by string, entry int) {
		r.By = by
		r.Put(report.EntryConcede, "", report.Conceded{Engineer: by, Reason: "closed by the station on our word", Found: entry})
	}
	for name, c := range map[string]struct {
		story func(r *rig.Rig)
		open  bool
		fault string
	}{
		"by a technician":        {func(r *rig.Rig) { found(r, "ada") }, true, ""},
		"by an engineer":         {func(r *rig.Rig) { found(r, "jonas") }, false, ""},
		"accepted":               {func(r *rig.Rig) { found(r, "ada"); accepted(r, "jonas", 2) }, false, ""},
		"accepted by themselves": {func(r *rig.Rig) { found(r, "ada"); accepted(r, "ada", 2) }, true, "accepts nothing"},
		"accepted twice":         {func(r *rig.Rig) { found(r, "ada"); accepted(r, "jonas", 2); accepted(r, "jonas", 2) }, false, "entry 4: an acceptance of what entry 2 found, which accepts nothing"},
		"found once more":        {func(r *rig.Rig) { found(r, "ada"); found(r, "ada"); accepted(r, "jonas", 3) }, false, ""},
		"an older one accepted":  {func(r *rig.Rig) { found(r, "ada"); found(r, "ada"); accepted(r, "jonas", 2) }, true, "accepts nothing"},
	} {
		r := sectionB(t)
		c.story(r)
		j := r.Job()
		flagged := slices.ContainsFunc(j.Flags(r.Now), func(f report.Flag) bool { return f.What == report.FlagFound && f.Open })
		if got := slices.Contains(j.Overall(r.Now).Against, against); got != c.open || flagged != c.open {
			t.Errorf("%s: against %v, flagged %v, want %v: %q", name, got, flagged, c.open, j.Overall(r.Now).Against)
		}
		if faults := strings.Join(j.RuleFaults(), "; "); c.fault == "" && faults != "" || !strings.Contains(faults, c.fault) {
			t.Errorf("%s: faults %q, want %q", name, faults, c.fault)
		}
	}
}
