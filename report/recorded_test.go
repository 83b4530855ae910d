package report_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/cases"
	"handback/testdata/rig"
)

// shown is what is told of a job at a time, of what judgements decide.
func shown(t *testing.T, j *report.Job, now time.Time) string {
	t.Helper()
	var b strings.Builder
	all, err := j.Standing(now)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(&b, "%+v\n", all)
	for _, s := range j.States {
		fmt.Fprintf(&b, "%s %s conceded %v lapsed %q photos %q stands %s\n", s.Check.ID, s.Verdict(), s.IsConceded(), j.Lapsed(s), j.PhotosOpen(s), j.StandsAt(s, now))
		for _, a := range s.Attempts {
			told, err := json.Marshal(a.Told)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "  %d %v %s until %s %v order %q told %s\n", a.Number, a.Judged, a.Finding.Verdict, a.Finding.Until.Format(time.RFC3339), a.Finding.Soon, a.Order, told)
		}
		if a := s.LastJudged(); a != nil {
			for _, d := range a.Finding.Changes() {
				fmt.Fprintln(&b, d.ChangeText())
			}
		}
	}
	for _, it := range j.Plan.Items() {
		if it.Hold != nil {
			fmt.Fprintf(&b, "%s %+v\n", it.Hold.ID, j.Gaps(it.Hold, now))
		}
	}
	v, state, _ := j.PlantView(now)
	fmt.Fprintf(&b, "%+v %+v\n%q\n", v, state, j.RuleFaults())
	return b.String()
}

// recorded folds a job's entries as they were recorded.
func recorded(t *testing.T, p *plan.Plan, entries []chain.Entry) *report.Job {
	t.Helper()
	j, err := report.Recorded(p, entries)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// What is shown of a record is what judging it anew shows, of every kind in each of its
// cases, and a replay finds nothing else.
func TestRecorded_everyKind(t *testing.T) {
	jobs := 0
	for _, kind := range plan.KindNames() {
		f := cases.Read(t, kind)
		sets := []map[string]any{nil}
		for _, c := range f.Cases {
			sets = append(sets, c.Set)
			if testing.Short() && len(sets) > 4 {
				break
			}
		}
		for i, set := range sets {
			trial, err := plan.LoadTrial(kind+".json", f.Trial(t, set))
			if err != nil {
				continue // a case of what is refused
			}
			j := rig.TrialJob(t, trial)
			if j == nil {
				continue
			}
			jobs++
			for _, later := range []time.Duration{0, 4 * time.Minute, 20 * time.Minute, 9 * time.Hour} {
				look := recorded(t, trial.Plan, j.Entries)
				is, want := shown(t, look, trial.At.Add(later)), shown(t, j, trial.At.Add(later))
				if is != want {
					t.Errorf("%s case %d after %s:\n%s\nas recorded, judged anew\n%s", kind, i, later, is, want)
				}
				if again, err := look.Replayed(); err != nil || again != look {
					t.Errorf("%s case %d: a replay comes out otherwise: %v", kind, i, err)
				}
			}
		}
	}
	if jobs < len(plan.KindNames()) {
		t.Errorf("only %d jobs", jobs)
	}
}

// A job is shown alike at every entry: with corrections, concessions, repeats, defects.
func TestRecorded_everyEntry(t *testing.T) {
	r := rig.Told(t)
	all := r.Job().Entries
	for n := 1; n <= len(all); n++ {
		j, err := report.Fold(r.Plan, all[:n])
		if err != nil {
			t.Fatal(err)
		}
		if is, want := shown(t, recorded(t, r.Plan, all[:n]), r.Now), shown(t, j, r.Now); is != want {
			t.Errorf("after entry %d\n%s\nas recorded, judged anew\n%s", n, is, want)
		}
	}
}

// counted counts the judgements of each check of a plan.
func counted(r *rig.Rig) map[string]int {
	n := map[string]int{}
	for _, c := range r.Plan.Checks() {
		r.Wrapped(c.ID, nil, func(*checks.Work) { n[c.ID]++ })
	}
	return n
}

// Nothing is judged to show what was recorded, and every finding once before something is
// told to be free.
func TestRecorded_judgements(t *testing.T) {
	r := rig.Told(t)
	entries, judged := r.Job().Entries, 0
	for _, e := range entries {
		if e.Kind == report.EntryJudge {
			judged++
		}
	}
	n := counted(r)
	look := recorded(t, r.Plan, entries)
	shown(t, look, r.Now)
	if len(n) > 0 {
		t.Errorf("judged to show what was recorded: %v", n)
	}
	if _, err := look.Replayed(); err != nil {
		t.Fatal(err)
	}
	sum := 0
	for _, k := range n {
		sum += k
	}
	if sum != judged || judged < 6 {
		t.Errorf("%d judgements in a replay of %d: %v", sum, judged, n)
	}
}

// A proof of dead, and a change from the baseline, are judged however much is recorded; so
// is every finding where an instrument was found bad.
func TestRecorded_judgesAllTheSame(t *testing.T) {
	r := rig.Told(t)
	n := counted(r)
	r.Put(report.EntryBad, "", report.FoundBad{Serial: "EX-100", Since: r.Now.Add(-time.Hour).Format(time.RFC3339), Why: "fell from the ladder"})
	entries, err := r.Book.Entries(rig.Ctx, r.ID)
	if err != nil {
		t.Fatal(err)
	}
	if shown(t, recorded(t, r.Plan, entries), r.Now); n["volts"] == 0 {
		t.Error("nothing is judged where an instrument was found bad")
	}
	for name, change := range map[string]func(r *rig.Rig){
		"a check tells the network what is in phase": func(r *rig.Rig) { r.Plan.Check("volts").Device = "q1" },
		"a continuation was joined": func(r *rig.Rig) { // which holds whatever it may
			there := r.Elsewhere(len(r.Job().Entries)-1, chain.Draft{Kind: report.EntryBad, Data: report.FoundBad{Serial: "EX-100", Since: r.Now.Add(-time.Hour).Format(time.RFC3339), Why: "fell from the ladder"}})
			r.Adopts(there[0], 0)
		},
	} {
		r := rig.Told(t)
		change(r)
		entries, n := r.Job().Entries, counted(r)
		look := recorded(t, r.Plan, entries)
		if n["volts"] == 0 {
			t.Errorf("nothing is judged where %s", name)
		}
		j, err := report.Fold(r.Plan, entries)
		if err != nil {
			t.Fatal(err)
		}
		if is, want := shown(t, look, r.Now), shown(t, j, r.Now); is != want {
			t.Errorf("where %s\n%s\nas recorded, judged anew\n%s", name, is, want)
		}
	}
	tr, err := plan.LoadTrial("prove-dead.json", cases.Read(t, "prove-dead").Trial(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	j := rig.TrialJob(t, tr)
	k := *checks.KindOf(tr.Plan.Checks()[0])
	judge, times := k.Judge, 0
	k.Judge = func(w *checks.Work) { judge(w); times++ }
	k.Take(tr.Plan.Checks()[0])
	if recorded(t, tr.Plan, j.Entries); times != 1 {
		t.Errorf("a proof of dead is judged %d times", times)
	}
}

// beside is another continuation of a job: somebody else noted something instead of its newest
// entry.
func beside(t *testing.T, j *report.Job) []chain.Line {
	t.Helper()
	before := j.Entries[:len(j.Entries)-1]
	d := rig.Note("somebody else was here")
	d.At, d.By = j.Head().At, "ada"
	e, err := chain.Seal(before[len(before)-1], d)
	if err != nil {
		t.Fatal(err)
	}
	return []chain.Line{{ID: "other", Entries: append(slices.Clone(before), e)}}
}

// A value that was left out of the record is no fault of it, and nothing is told to be free
// by a finding without it: a later check may rest on it.
func TestReplayed_valueLeftOut(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	r.Read("ir", rig.Insulated, nil, "")
	in := r.Job().Input(r.Plan.Check("ir"), r.Now.Add(time.Minute))
	d := report.NewJudged(in.Check.Kind, 1, checks.Judge(in), "")
	d.Values = map[string]float64{}
	r.Put(report.EntryJudge, "ir", d)
	look := recorded(t, r.Plan, r.Job().Entries)
	again, err := look.Replayed()
	if err != nil || again == look || len(again.Differs) > 0 || len(again.State("ir").LastJudged().Finding.Derived) == 0 {
		t.Errorf("the same job: %v, %v", again == look, err)
	}
}

// A verdict that another hand wrote, with a sound chain, is shown and frees nothing: the
// replay tells it and the job is not ready.
func TestReplayed_forged(t *testing.T) {
	for _, c := range []struct {
		name  string
		forge func(d *report.Judged)
		same  bool // the replay lets it stand
	}{
		{"the verdict", func(d *report.Judged) { d.Verdict = checks.Pass }, false},
		{"a value", func(d *report.Judged) {
			for key := range d.Values {
				d.Values[key] *= 2
			}
		}, false},
		{"verdict and reasons", func(d *report.Judged) {
			d.Verdict = checks.Pass
			for i := range d.Reasons {
				d.Reasons[i].Verdict = checks.Pass
			}
		}, false},
		{"the words alone", func(d *report.Judged) { d.Reasons[0].Words = "said otherwise" }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.New(t, "pump.yaml")
			r.Take("isolated", rig.Isolated)
			r.Read("ir", rig.Insulated, nil, "")
			in := r.Job().Input(r.Plan.Check("ir"), r.Now.Add(time.Minute))
			d := report.NewJudged(in.Check.Kind, 1, checks.Judge(in), "")
			if d.Verdict != checks.Fail {
				t.Fatalf("the insulation comes to %s", d.Verdict)
			}
			c.forge(&d)
			r.Put(report.EntryJudge, "ir", d)
			entries := r.Job().Entries
			look := recorded(t, r.Plan, entries)
			look.Lines = beside(t, look)
			if got := look.State("ir").Verdict(); got != d.Verdict || len(look.Differs) > 0 {
				t.Errorf("shown %s, recorded %s, %q", got, d.Verdict, look.Differs)
			}
			again, err := look.Replayed()
			if err != nil || (again == look) != c.same {
				t.Fatalf("the same job: %v, %v", again == look, err)
			}
			if !c.same && (again.State("ir").Verdict() != checks.Fail || len(again.Differs) != 1 || len(again.Forks()) != 1 || again.Overall(r.Now).Ready || !slices.Contains(again.Overall(r.Now).Against, again.Differs[0])) {
				t.Errorf("%s, %q", again.State("ir").Verdict(), again.Differs)
			}
		})
	}
}

// What tells the network that two sides are in phase is judged, and with it the check whose
// volts it takes its angle from: another hand's word of that one is found.
func TestRecorded_judgesWhatAProofRestsOn(t *testing.T) {
	f := cases.Read(t, "sync")
	at := slices.IndexFunc(f.Cases, func(c cases.Case) bool { return c.Name == "angle from the volts across" })
	trial, err := plan.LoadTrial("sync.json", f.Trial(t, f.Cases[at].Set))
	if err != nil {
		t.Fatal(err)
	}
	sound := rig.TrialJob(t, trial).Entries
	trial.Plan.Checks()[len(trial.Plan.Checks())-1].Device = "inc"
	k := *checks.KindOf(trial.Plan.Check("across"))
	judge, times := k.Judge, 0
	k.Judge = func(w *checks.Work) { judge(w); times++ }
	k.Take(trial.Plan.Check("across"))
	if j := recorded(t, trial.Plan, sound); times != 1 || len(j.Differs) > 0 {
		t.Errorf("the volts across are judged %d times: %q", times, j.Differs)
	}
	forged := sound[:1:1]
	for _, e := range sound[1:] {
		d := chain.Draft{At: e.At, By: e.By, Kind: e.Kind, Check: e.Check, Data: e.Data}
		if is, err := report.Decode[report.Judged](e); e.Kind == report.EntryJudge && e.Check == "across" && err == nil {
			for key := range is.Values {
				is.Values[key]++
			}
			d.Data = is
		}
		next, err := chain.Seal(forged[len(forged)-1], d)
		if err != nil {
			t.Fatal(err)
		}
		forged = append(forged, next)
	}
	if j := recorded(t, trial.Plan, forged); len(j.Differs) != 1 || !strings.Contains(j.Differs[0], "across") {
		t.Errorf("forged volts across are not told: %q", j.Differs)
	}
}

// What was recorded and what comes of judging it again are kept once where they are the same
// to the last sign, and lists without spare room: a job keeps thousands of them.
func TestFold_keepsOnce(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	r.Take("ir", rig.Insulated)
	looked := 0
	for _, s := range r.Job().States {
		for _, a := range s.Attempts {
			is, was, found := a.Told.Reasons, a.Recorded.Reasons, a.Finding
			if len(is) == 0 {
				t.Fatalf("%s has no reasons", s.Check.ID)
			}
			looked++
			if &is[0] != &was[0] {
				t.Errorf("%s keeps what was recorded beside what it comes to", s.Check.ID)
			}
			if cap(found.Reasons) != len(found.Reasons) || cap(found.Derived) != len(found.Derived) || cap(found.Bases) != len(found.Bases) {
				t.Errorf("%s keeps room for more reasons or values", s.Check.ID)
			}
		}
	}
	if looked != 2 {
		t.Errorf("%d attempts were looked at, want 2", looked)
	}
}
