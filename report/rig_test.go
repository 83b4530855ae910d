package report

import (
	"embed"
	"maps"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records"
)

// dawn is when the job of a rig is opened; every entry after it is a minute later.
var dawn = time.Date(2026, 3, 2, 7, 30, 0, 0, time.FixedZone("", 3600))

//go:embed testdata/*.yaml
var plans embed.FS

// planText is a plan of testdata.
func planText(t testing.TB, name string) []byte {
	t.Helper()
	data, err := plans.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// rig is a job in a record book of its own, told entry by entry.
type rig struct {
	testing.TB
	plan *checks.Plan
	book *records.Book
	id   string
	now  time.Time
	by   string
}

// newRig opens a job on a plan of testdata.
func newRig(t testing.TB, planFile string) *rig {
	t.Helper()
	return newRigOf(t, planFile, planText(t, planFile))
}

// newLiveRig opens a job on the plan of pump.yaml without its first hold point: what
// stands behind it can be taken at once.
func newLiveRig(t testing.TB) *rig {
	t.Helper()
	data := planText(t, "pump.yaml")
	const hold = "  - hold: energise\n    action: Close the HV breaker of T1\n"
	if !strings.Contains(string(data), hold) {
		t.Fatal("the first hold point of pump.yaml is not where it was")
	}
	return newRigOf(t, "pump.yaml", []byte(strings.Replace(string(data), hold, "", 1)))
}

func newRigOf(t testing.TB, planFile string, data []byte) *rig {
	t.Helper()
	plan, err := checks.LoadPlan(planFile, data)
	if err != nil {
		t.Fatal(err)
	}
	book, err := records.OpenOrCreate(ctx, filepath.Join(t.TempDir(), "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	first := records.Draft{At: dawn, By: "ada", Kind: KindOpen, Data: map[string]string{"title": plan.Title, "plan_file": planFile, "program": "handback test"}}
	e, err := book.NewJob(ctx, plan.ID, first, data, "invented-nonce-0001")
	if err != nil {
		t.Fatal(err)
	}
	return &rig{TB: t, plan: plan, book: book, id: e.Job, now: dawn, by: "ada"}
}

// put appends an entry one minute on.
func (r *rig) put(kind, check string, data any) {
	r.Helper()
	r.now = r.now.Add(time.Minute)
	if _, err := r.book.Append(ctx, r.id, -1, records.Draft{At: r.now, By: r.by, Kind: kind, Check: check, Data: data}); err != nil {
		r.Fatal(err)
	}
}

// job folds what the book holds.
func (r *rig) job() *Job {
	r.Helper()
	entries, err := r.book.Entries(ctx, r.id)
	if err != nil {
		r.Fatal(err)
	}
	j, err := Fold(r.plan, entries)
	if err != nil {
		r.Fatal(err)
	}
	return j
}

// said is what a person types, by field; kept gives the reason a doubted reading was
// kept, by field.
type typed map[string]string

func (r *rig) answers(check string, said typed, kept typed) checks.Answers {
	r.Helper()
	j := r.job()
	form := j.Input(r.plan.Check(check), r.now).Form()
	out := checks.Answers{}
	for key, text := range said {
		f, ok := checks.FieldNamed(form, key)
		if !ok {
			r.Fatalf("check %s does not ask %s", check, key)
		}
		a, err := checks.ParseAnswer(f, r.plan, text, r.now)
		if err != nil {
			r.Fatal(err)
		}
		a.Kept = kept[key]
		out[key] = a
	}
	return out
}

// read records one line of the attempt that is open, or of the next.
func (r *rig) read(check string, said typed, kept typed, why string) {
	r.Helper()
	n := 1
	if a := r.job().State(check).Last(); a != nil {
		n = a.Number
		if a.Judged {
			n++
		}
	}
	r.put(KindRead, check, Read{Attempt: n, Answers: r.answers(check, said, kept), Why: why})
}

// judge records the finding of the newest attempt.
func (r *rig) judge(check, because string) checks.Verdict {
	r.Helper()
	j := r.job()
	a := j.State(check).Last()
	in := checks.Input{Plan: r.plan, Check: r.plan.Check(check), Answers: maps.Clone(a.Answers), Before: j.Before(check), At: r.now.Add(time.Minute)}
	f := checks.Judge(in)
	r.put(KindJudge, check, NewJudged(in.Check.Kind, a.Number, f, because))
	return f.Verdict
}

// take reads and judges a whole attempt.
func (r *rig) take(check string, said typed) checks.Verdict {
	r.Helper()
	r.read(check, said, nil, "")
	return r.judge(check, "")
}

func (r *rig) want(got, want checks.Verdict) {
	r.Helper()
	if got != want {
		r.Fatalf("verdict %s, want %s", got, want)
	}
}

func (r *rig) document(now time.Time) *Document {
	r.Helper()
	d, err := NewDocument(r.job(), now)
	if err != nil {
		r.Fatal(err)
	}
	return d
}

var (
	goodVolts = typed{"meter": "dmm", "l1l2": "440.9", "l2l3": "441.2", "l3l1": "440.5", "l1n": "254.5", "l2n": "254.6", "l3n": "254.3"}
	highVolts = typed{"meter": "dmm", "l1l2": "462.9", "l2l3": "463.2", "l3l1": "462.5", "l1n": "267.2", "l2n": "267.3", "l3n": "267.0"}
	insulated = typed{"meter": "old", "p1": "850", "p2": "1.2 GΩ", "p3": "910"}
	isolated  = typed{"who": "ada", "witness": "ben", "s1": "yes", "s2": "yes"}
)

// told is a job with something of everything: a pass, a failure whose repeat
// passes, a concession, a doubtful reading that was kept, a correction, a skipped
// check, notes and a step taken.
func told(t testing.TB) *rig {
	r := newRig(t, "pump.yaml")
	r.want(r.take("isolated", isolated), checks.Pass)
	r.want(r.take("ir", insulated), checks.Fail) // the tester is out of date
	r.by = "eva"
	r.put(KindConcede, "ir", Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "tester compared with a resistor of 1 GΩ the same morning"})
	r.put(KindNote, "", Noted{Text: "=1+1 is no formula; +49, -5 and @SUM are not either\n_x000D_ stays as it is"})
	r.by = "ada"
	r.put(KindStep, "", Stepped{Hold: "energise", Action: "Close the HV breaker of T1", Taken: r.now.Format(time.RFC3339)})
	r.want(r.take("hv", typed{"meter": "vt", "value": "11.20"}), checks.Pass)
	r.want(r.take("volts", highVolts), checks.Fail)
	r.read("volts", goodVolts, nil, "tap put back to 2")
	r.want(r.judge("volts", ""), checks.Pass)
	r.put(KindCorrect, "volts", Corrected{Attempt: 2, Answers: r.answers("volts", typed{"l3n": "254.4"}, nil), Why: "misread the last digit"})
	r.want(r.judge("volts", "after a correction"), checks.Pass)
	r.read("earth-ref", typed{"meter": "dmm", "value": "0.8 V"}, typed{"value": "drifted between 0.7 and 0.9 while looked at"}, "")
	r.want(r.judge("earth-ref", ""), checks.Pass)
	r.put(KindNote, "earth-ref", Noted{Text: "Third harmonic heard in the neutral."})
	r.put(KindSkip, "tidy", Skipped{Why: "left to the morning"})
	return r
}

// nasty is a job whose words would do harm where they are taken for more than
// words, with stops, long texts and every verdict.
func nasty(t testing.TB) *rig {
	data := planText(t, "pump.yaml")
	long := strings.TrimSpace(strings.Repeat("The earth bar of the cable box was found loose, cleaned and tightened. ", 12))
	data = []byte(strings.NewReplacer(
		"Switchroom left tidy", `"=HYPERLINK(\"http://example.org\",\"tidy\")"`,
		"Neutral to earth volts", `"+49 neutral & <earth> 'volts' \"\U0001F600\" 中性点"`,
		"Use fused probes.", long,
		"Covers are refitted", "\"@SUM(1+1)*cmd|' /C calc'!A0\"",
	).Replace(string(data)))
	r := newRigOf(t, "nasty.yaml", data)
	r.wrapped("hv", nil, func(w *checks.Work) {
		if w.Answers["value"].Value > 11400 {
			w.Stop("HV volts above the plant's highest voltage: keep off the tap links and open the HV breaker at once")
		}
	})
	no := maps.Clone(isolated)
	no["s2"], no["witness"] = "no", "ada"
	r.take("isolated", no)
	r.read("isolated", isolated, nil, "=2+3 racked out now")
	r.judge("isolated", "")
	r.take("ir", insulated)
	r.put(KindStep, "", Stepped{"energise", "Close the HV breaker of T1", r.now.Format(time.RFC3339)})
	r.take("hv", typed{"meter": "vt", "value": "11.62"})
	r.by = "eva"
	r.put(KindConcede, "hv", Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Stop: "HV volts", Reason: long})
	r.by = "ada"
	swapped := maps.Clone(goodVolts)
	swapped["l2n"] = "245.6"
	r.read("volts", swapped, typed{"l2n": "the meter shows it so, three times over; " + long}, "")
	r.judge("volts", "")
	for _, text := range []string{"\t=1+1", "-5+cmd", "_x000D_ and _x005F_ and _xD800_", "bell \x07, escape \x1b[31m, return \r, null \x00, override \u202e",
		strings.Repeat("unbroken", 300), strings.Repeat(long+"\n", 30)} {
		r.put(KindNote, "earth-ref", Noted{text})
	}
	for range 12 {
		r.take("earth-ref", typed{"meter": "dmm", "value": "58"})
	}
	r.read("tidy", typed{"who": "ada"}, nil, "")
	return r
}
