package fork_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/testdata/rig"
)

// at is when the entries of a test are made, a minute apart.
var at = time.Date(2026, 5, 12, 9, 0, 0, 0, time.FixedZone("", 3600))

// line goes on with entries, the first of which opens a job.
func line(t testing.TB, before []chain.Entry, drafts ...chain.Draft) []chain.Entry {
	t.Helper()
	out := slices.Clone(before)
	for _, d := range drafts {
		d.At, d.By = at.Add(time.Duration(len(out))*time.Minute), cmp.Or(d.By, "ada")
		data, err := chain.CanonicalObject(d.Data)
		if err != nil {
			t.Fatal(err)
		}
		h := chain.Head{V: chain.EntryVersion, Job: "pump-1", Seq: len(out) + 1, Prev: chain.Genesis("pump-1", "x"), At: d.At, By: d.By, Kind: d.Kind, Check: d.Check}
		if len(out) > 0 {
			h.Prev = out[len(out)-1].Hash
		}
		e, err := chain.EncodeEntry(h, data)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, e)
	}
	return out
}

func note(text string) chain.Draft { return rig.Note(text) }

// joins is the entry that leaves all of another line that is open.
func joins(here, there []chain.Entry, others ...chain.Line) chain.Draft {
	j := fork.Joined{After: chain.Parting(here, there), Head: there[len(there)-1].Hash, Entries: []fork.Decision{}}
	for _, e := range fork.Open(here, there, others) {
		j.Entries = append(j.Entries, fork.Decision{Entry: e.Seq, Hash: e.Hash, Why: "not wanted"})
	}
	return chain.Draft{Kind: fork.Join, Data: j}
}

// told are forks in short.
func told(here []chain.Entry, others ...[]chain.Entry) string {
	var lines []chain.Line
	for _, l := range others {
		lines = append(lines, chain.Line{Entries: l})
	}
	var out []string
	for _, f := range fork.Of(here, lines) {
		out = append(out, fmt.Sprintf("after %d: %d here, %d there, %d open, superseded %d", f.After, f.Here, f.There, f.Undecided, f.Superseded))
	}
	return strings.Join(out, "; ")
}

func TestOf(t *testing.T) {
	both := line(t, nil, note("opened"), note("both"))
	here := line(t, both, note("here"))
	there := line(t, both, note("there"), note("there again"))
	third := line(t, there[:3], note("a third hand"))
	want := func(is, want string) {
		t.Helper()
		if is != want {
			t.Errorf("%q, want %q", is, want)
		}
	}
	want(told(here), "")
	want(told(here, there), "after 2: 1 here, 2 there, 2 open, superseded 0")
	want(told(there, here), "after 2: 2 here, 1 there, 1 open, superseded 0")
	want(told(there, third), "after 3: 1 here, 1 there, 1 open, superseded 0")

	joined := line(t, here, joins(here, there))
	want(told(joined, there), "")
	want(told(there, joined), "after 2: 2 here, 2 there, 2 open, superseded 4")
	later := line(t, there, note("later"))
	want(told(joined, later), "after 2: 2 here, 3 there, 1 open, superseded 0")
	want(told(later, joined), "after 2: 3 here, 2 there, 2 open, superseded 0") // there is more than the join saw
	again := line(t, joined, joins(joined, later))
	want(told(again, later), "")
	want(told(later, again), "after 2: 3 here, 3 there, 3 open, superseded 5")

	// Of a third line, what the join decided of the part it shares is not asked again.
	want(told(joined, there, third), "after 2: 2 here, 2 there, 1 open, superseded 0")
	// What the other side had joined itself is decided with it.
	others := []chain.Line{{Entries: third}}
	wide := line(t, there, joins(there, third, others...))
	over := line(t, here, joins(here, wide, append(others, chain.Line{Entries: wide})...))
	want(told(over, wide, third), "")
	// A side that a third line joined, as it joined the other, hears of that line alone.
	fourth := line(t, both, note("a fourth hand"))
	fourth = line(t, fourth, joins(fourth, here))
	want(told(here, fourth, there), "after 2: 1 here, 2 there, 2 open, superseded 4; after 2: 1 here, 2 there, 2 open, superseded 0")
	fourth = line(t, fourth, joins(fourth, there, chain.Line{Entries: here}))
	want(told(here, fourth, there), "after 2: 1 here, 3 there, 3 open, superseded 5")
	want(told(here, fourth, later), "after 2: 1 here, 3 there, 3 open, superseded 0; after 2: 1 here, 3 there, 3 open, superseded 5")
	// Both sides joined one another, each without the join of the other: one of them has
	// to decide that.
	other := line(t, there, joins(there, here))
	want(told(joined, other), "after 2: 2 here, 3 there, 1 open, superseded 0")
	if m := fork.Missing(joined, []chain.Line{{Entries: there}}); len(m) > 0 {
		t.Errorf("entries %v lack their other side, which is there", m)
	}
	if m := fork.Missing(joined, nil); !slices.Equal(m, []int{4}) {
		t.Errorf("entries %v lack their other side, want 4", m)
	}
}

func raw(text string) json.RawMessage { return json.RawMessage(text) }

func TestSame(t *testing.T) {
	both := line(t, nil, note("opened"))
	read := func(check, value, meter, more string) chain.Draft {
		return chain.Draft{Kind: report.EntryRead, Check: check, Data: raw(fmt.Sprintf(`{"attempt":1,"answers":{"v":{"typed":"%[1]s","value":%[1]s,"unit":"V"},"meter":{"typed":"%[2]s","word":"%[2]s"}}%[3]s}`, value, meter, more))}
	}
	here := line(t, both, read("volts", "231", "dmm", ""), chain.Draft{Kind: report.EntryStep, Data: raw(`{"step":"open-q2","action":"Open","taken":"2026-05-12T09:01:00+01:00"}`)})
	for name, c := range map[string]struct {
		d    chain.Draft
		want int
	}{
		"the same":           {read("volts", "231", "dmm", ""), 2},
		"typed otherwise":    {chain.Draft{Kind: report.EntryRead, Check: "volts", Data: raw(`{"attempt":2,"why":"again","answers":{"v":{"typed":"0.231 kV","value":231,"unit":"V"},"meter":{"typed":"d","word":"dmm"}}}`)}, 2},
		"another value":      {read("volts", "232", "dmm", ""), 0},
		"another instrument": {read("volts", "231", "dmm-2", ""), 0},
		"another check":      {read("amps", "231", "dmm", ""), 0},
		"the step":           {chain.Draft{Kind: report.EntryStep, Data: raw(`{"step":"open-q2","action":"Open","taken":"2026-05-12T09:03:00+01:00"}`)}, 3},
		"another step":       {chain.Draft{Kind: report.EntryStep, Data: raw(`{"step":"open-q3","action":"Open","taken":"2026-05-12T09:01:00+01:00"}`)}, 0},
		"a note":             {note("opened"), 0},
	} {
		there := line(t, both, c.d)
		if is := fork.Same(here, 1, there[1]); is != c.want {
			t.Errorf("%s: entry %d, want %d", name, is, c.want)
		}
	}
	late := both
	for range 11 {
		late = line(t, late, note("in between"))
	}
	late = line(t, late, read("volts", "231", "dmm", ""))
	if is := fork.Same(here, 1, late[len(late)-1]); is != 0 {
		t.Errorf("eleven minutes later it is taken for entry %d", is)
	}
	adopted := line(t, both, chain.Draft{Kind: fork.Adopt, Data: fork.Adopted{Hash: here[1].Hash, Entry: string(here[1].Body), Number: 1}})
	if is := fork.Same(here, 1, adopted[1]); is != 2 {
		t.Errorf("what adopts entry 2 is taken for entry %d", is)
	}
}

// Every kind of entry is adopted or has its reason why not.
func TestMayAdopt(t *testing.T) {
	both := line(t, nil, note("opened"))
	for kind, want := range map[string]string{
		report.EntryOpen: fork.LeftSigned, report.EntryRead: "", report.EntryJudge: fork.LeftJudged, report.EntryCorrect: "", report.EntrySkip: "", report.EntryNote: "",
		report.EntryConcede: fork.LeftSigned, report.EntryStep: "", report.EntryUndo: "", report.EntryLeft: "", report.EntryFound: "", report.EntryBad: "",
		report.EntryDefect: "", report.EntryClose: "", report.EntryAmend: fork.LeftPlan, report.EntryAccept: fork.LeftSigned, report.EntryRemark: "", report.EntryAnswer: "",
		report.EntryWithdraw: "", report.EntryReview: fork.LeftBelonging, report.EntrySign: fork.LeftSigned, report.EntryJoin: fork.LeftBelonging, report.EntryAdopt: fork.LeftBelonging,
	} {
		e := line(t, both, chain.Draft{Kind: kind, Data: raw(`{}`)})[1] // an adoption of nothing cannot be followed
		if is := fork.MayAdopt(e); is != want {
			t.Errorf("%s: %q, want %q", kind, is, want)
		}
	}
	for want, a := range map[string]chain.Attached{"": chain.NewAttached("f.txt", []byte("x"), "a file", false), fork.LeftSigned: {Name: "f.txt", SHA256: chain.HashFile([]byte("x")), Bytes: 1, Type: "text/plain", Document: chain.DocumentPage}} {
		e := line(t, both, chain.Draft{Kind: chain.KindAttach, Data: a})[1]
		if is := fork.MayAdopt(e); is != want {
			t.Errorf("attach %q: %q, want %q", a.Document, is, want)
		}
	}
}

// What is adopted says what it said, with the numbers of its new place.
func TestCounts(t *testing.T) {
	both := line(t, nil, note("opened"))
	there := line(t, both, chain.Draft{By: "cleo", Kind: report.EntryRead, Check: "a", Data: raw(`{"answers":{"v":{"typed":"1"}},"attempt":1}`)},
		chain.Draft{Kind: report.EntryRead, Check: "b", Data: raw(`{"answers":{"v":{"from":{"at":"2026-05-12T09:01:00+01:00","check":"a","entry":2,"field":"v"},"typed":"1"}},"attempt":1}`)})
	adopts := func(e chain.Entry, number int, why string) chain.Draft {
		return chain.Draft{By: "ben", Kind: fork.Adopt, Check: e.Check, Data: fork.Adopted{Hash: e.Hash, Entry: string(e.Body), Number: number, Why: why}}
	}
	here := line(t, both, note("here"), note("here"), adopts(there[1], 3, "as agreed"), adopts(there[2], 1, ""))
	is, err := fork.Counts(here[3], nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"answers":{"v":{"typed":"1"}},"attempt":3,"why":"as agreed"}`; string(is.Data) != want || is.Seq != 4 || is.By != "cleo" || !is.At.Equal(there[1].At) || is.Kind != report.EntryRead || is.Check != "a" {
		t.Errorf("%+v %s", is.Head, is.Data)
	}
	if is, err = fork.Counts(here[4], here[3:4]); err != nil {
		t.Fatal(err)
	}
	if want := `{"answers":{"v":{"from":{"at":"2026-05-12T09:01:00+01:00","check":"a","entry":4,"field":"v"},"typed":"1"}},"attempt":1}`; string(is.Data) != want {
		t.Errorf("%s, want %s", is.Data, want)
	}
	for name, d := range map[string]chain.Draft{
		"no number":      adopts(there[1], 0, ""),
		"another hash":   {Kind: fork.Adopt, Data: fork.Adopted{Hash: there[2].Hash, Entry: string(there[1].Body), Number: 1}},
		"changed bytes":  {Kind: fork.Adopt, Data: fork.Adopted{Hash: there[1].Hash, Entry: strings.Replace(string(there[1].Body), "cleo", "ada", 1), Number: 1}},
		"the opening":    adopts(both[0], 0, ""),
		"an acceptance":  adopts(line(t, both, chain.Draft{Kind: report.EntryConcede, Data: raw(`{}`)})[1], 0, ""),
		"a finding":      adopts(line(t, both, chain.Draft{Kind: report.EntryJudge, Data: raw(`{}`)})[1], 1, ""),
		"an unread part": {Kind: fork.Adopt, Data: raw(`{"hash":"","entry":"","more":1}`)},
	} {
		if is, err := fork.Counts(line(t, both, d)[1], nil); err == nil {
			t.Errorf("%s: it counts as %s", name, is.Data)
		}
	}
}

// A reading that was adopted is judged as of its own time, by the plan in force; its person
// stays its person.
func TestAdopted_ownTime(t *testing.T) {
	r := rig.NewLive(t)
	r.Take("isolated", rig.Isolated)
	after := len(r.Job().Entries)
	read := chain.Draft{Kind: report.EntryRead, Check: "ir", Data: report.Read{Attempt: 1, Answers: r.Answers("ir", rig.Insulated, nil)}}
	r.Put(report.EntryNote, "", report.Noted{Text: "on this side"})
	there := r.Elsewhere(after, read)
	if forks := r.Job().Forks(); len(forks) != 1 || r.Job().Overall(r.Now).Ready {
		t.Fatalf("%+v", forks)
	}
	r.Now = r.Now.Add(3 * time.Hour)
	r.Adopts(there[0], 1)
	j := r.Job()
	a := j.State("ir").Last()
	if !a.First.Equal(there[0].At) || a.By != "ada" || a.Lines[0].Seq != len(j.Entries) {
		t.Errorf("%+v", a)
	}
	r.Judge("ir", "")
	r.Joins("eva", after, there, len(j.Entries))
	j = r.Job()
	if a = j.State("ir").Last(); !a.At.Equal(there[0].At) || len(j.Differs) > 0 {
		t.Errorf("judged as of %v, read %v: %v", a.At, there[0].At, j.Differs)
	}
	if faults := j.RuleFaults(); len(faults) > 0 {
		t.Error(faults)
	}
	if len(j.Forks()) > 0 {
		t.Errorf("%+v is open", j.Forks())
	}
	then, err := j.Upto(after + 1)
	if err != nil || len(then.Forks()) > 0 {
		t.Errorf("%v, as it stood earlier it knows of %v", err, then.Forks())
	}
}
