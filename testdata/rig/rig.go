package rig

import (
	"embed"
	"maps"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// Dawn is when the job of a rig is opened; every entry after it is a minute later.
var Dawn = time.Date(2026, 3, 2, 7, 30, 0, 0, time.FixedZone("", 3600))

//go:embed testdata/*.yaml
var plans embed.FS

// PlanText is a plan of testdata.
func PlanText(t testing.TB, name string) []byte {
	t.Helper()
	data, err := plans.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Rig is a job in a record book of its own, told entry by entry.
type Rig struct {
	testing.TB
	Plan *plan.Plan
	Book *records.Book
	ID   string
	Now  time.Time
	By   string
}

// New opens a job on a plan of testdata.
func New(t testing.TB, planFile string) *Rig {
	t.Helper()
	return Of(t, planFile, PlanText(t, planFile))
}

// NewLive opens a job on the plan of pump.yaml without its first hold point: what
// stands behind it can be taken at once.
func NewLive(t testing.TB) *Rig {
	t.Helper()
	data := PlanText(t, "pump.yaml")
	const hold = "  - hold: energise\n    action: Close the HV breaker of T1\n"
	if !strings.Contains(string(data), hold) {
		t.Fatal("the first hold point of pump.yaml is not where it was")
	}
	return Of(t, "pump.yaml", []byte(strings.Replace(string(data), hold, "", 1)))
}

// Of opens a job on a plan given as text.
func Of(t testing.TB, planFile string, data []byte) *Rig {
	t.Helper()
	return Opened(t, planFile, data, "")
}

// Opened is Of with what the job says of acceptances; "" is a job from before they were
// signed.
func Opened(t testing.TB, planFile string, data []byte, acceptances string) *Rig {
	t.Helper()
	plan, err := plan.Load(planFile, data)
	if err != nil {
		t.Fatal(err)
	}
	book, err := records.OpenOrCreate(Ctx, filepath.Join(t.TempDir(), "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	first := chain.Draft{At: Dawn, By: "ada", Kind: report.EntryOpen, Data: report.Opening{Title: plan.Title, PlanFile: planFile, Program: "handback test", Acceptances: acceptances}}
	e, err := book.NewJob(Ctx, plan.ID, first, data, "invented-nonce-0001")
	if err != nil {
		t.Fatal(err)
	}
	return &Rig{TB: t, Plan: plan, Book: book, ID: e.Job, Now: Dawn, By: "ada"}
}

// Put appends an entry one minute on.
func (r *Rig) Put(kind, check string, data any) {
	r.Helper()
	r.Now = r.Now.Add(time.Minute)
	if _, err := r.Book.Append(Ctx, r.ID, -1, chain.Draft{At: r.Now, By: r.By, Kind: kind, Check: check, Data: data}); err != nil {
		r.Fatal(err)
	}
}

// Job folds what the book holds.
func (r *Rig) Job() *report.Job {
	r.Helper()
	entries, err := r.Book.Entries(Ctx, r.ID)
	if err != nil {
		r.Fatal(err)
	}
	j, err := report.Fold(r.Plan, entries)
	if err == nil {
		j.Lines, err = r.Book.Beside(Ctx, r.ID, entries)
	}
	if err != nil {
		r.Fatal(err)
	}
	return j
}

// said is what a person types, by field; kept gives the reason a doubted reading was
// kept, by field.
type Typed map[string]string

// Answers are what is said, as the form of a check reads it.
func (r *Rig) Answers(check string, said Typed, kept Typed) checks.Answers {
	r.Helper()
	j := r.Job()
	form := j.Input(r.Plan.Check(check), r.Now).Form()
	out := checks.Answers{}
	for key, text := range said {
		f, ok := checks.FieldNamed(form, key)
		if !ok {
			r.Fatalf("check %s does not ask %s", check, key)
		}
		a, err := checks.ParseAnswer(f, r.Plan, text, r.Now)
		if err != nil {
			r.Fatal(err)
		}
		a.Kept = kept[key]
		out[key] = a
	}
	return out
}

// Read records one line of the attempt that is open, or of the next.
func (r *Rig) Read(check string, said Typed, kept Typed, why string) {
	r.Helper()
	n := 1
	if a := r.Job().State(check).Last(); a != nil {
		n = a.Number
		if a.Judged {
			n++
		}
	}
	r.Put(report.EntryRead, check, report.Read{Attempt: n, Answers: r.Answers(check, said, kept), Why: why})
}

// Judge records the finding of the newest attempt.
func (r *Rig) Judge(check, because string) checks.Verdict {
	r.Helper()
	j := r.Job()
	a := j.State(check).Last()
	in := checks.Input{Plan: r.Plan, Check: r.Plan.Check(check), Answers: maps.Clone(a.Answers), Before: j.Before(check), At: r.Now.Add(time.Minute)}
	f := checks.Judge(in)
	r.Put(report.EntryJudge, check, report.NewJudged(in.Check.Kind, a.Number, f, because))
	return f.Verdict
}

// Take reads and judges a whole attempt.
func (r *Rig) Take(check string, said Typed) checks.Verdict {
	r.Helper()
	r.Read(check, said, nil, "")
	return r.Judge(check, "")
}

// Want demands a verdict.
func (r *Rig) Want(got, want checks.Verdict) {
	r.Helper()
	if got != want {
		r.Fatalf("verdict %s, want %s", got, want)
	}
}

// Document is what a handover of the job says at a time.
func (r *Rig) Document(now time.Time) *report.Document {
	r.Helper()
	d, err := report.NewDocument(r.Job(), now)
	if err != nil {
		r.Fatal(err)
	}
	return d
}

var (
	GoodVolts = Typed{"meter": "dmm", "l1l2": "440.9", "l2l3": "441.2", "l3l1": "440.5", "l1n": "254.5", "l2n": "254.6", "l3n": "254.3"}
	highVolts = Typed{"meter": "dmm", "l1l2": "462.9", "l2l3": "463.2", "l3l1": "462.5", "l1n": "267.2", "l2n": "267.3", "l3n": "267.0"}
	Insulated = Typed{"meter": "old", "p1": "850", "p2": "1.2 GΩ", "p3": "910"}
	Isolated  = Typed{"who": "ada", "witness": "ben", "s1": "yes", "s2": "yes"}
)

// Told is a job with something of everything: a pass, a failure whose repeat
// passes, a concession, a doubtful reading that was kept, a correction, a skipped
// check, notes and a step taken.
func Told(t testing.TB) *Rig {
	r := New(t, "pump.yaml")
	r.Want(r.Take("isolated", Isolated), checks.Pass)
	r.Want(r.Take("ir", Insulated), checks.Fail) // the tester is out of date
	r.By = "eva"
	r.Put(report.EntryConcede, "ir", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "tester compared with a resistor of 1 GΩ the same morning"})
	r.Put(report.EntryNote, "", report.Noted{Text: "=1+1 is no formula; +49, -5 and @SUM are not either\n_x000D_ stays as it is"})
	r.By = "ada"
	r.Put(report.EntryStep, "", report.Stepped{Hold: "energise", Action: "Close the HV breaker of T1", Taken: r.Now.Format(time.RFC3339)})
	r.Want(r.Take("hv", Typed{"meter": "vt", "value": "11.20"}), checks.Pass)
	r.Want(r.Take("volts", highVolts), checks.Fail)
	r.Read("volts", GoodVolts, nil, "tap put back to 2")
	r.Want(r.Judge("volts", ""), checks.Pass)
	r.Put(report.EntryCorrect, "volts", report.Corrected{Attempt: 2, Answers: r.Answers("volts", Typed{"l3n": "254.4"}, nil), Why: "misread the last digit"})
	r.Want(r.Judge("volts", "after a correction"), checks.Pass)
	r.Read("earth-ref", Typed{"meter": "dmm", "value": "0.8 V"}, Typed{"value": "drifted between 0.7 and 0.9 while looked at"}, "")
	r.Want(r.Judge("earth-ref", ""), checks.Pass)
	r.Put(report.EntryNote, "earth-ref", report.Noted{Text: "Third harmonic heard in the neutral."})
	r.Put(report.EntrySkip, "tidy", report.Skipped{Why: "left to the morning"})
	return r
}

// Nasty is a job whose words would do harm where they are taken for more than
// words, with stops, long texts and every verdict.
func Nasty(t testing.TB) *Rig {
	data := PlanText(t, "pump.yaml")
	long := strings.TrimSpace(strings.Repeat("The earth bar of the cable box was found loose, cleaned and tightened. ", 12))
	data = []byte(strings.NewReplacer(
		"Switchroom left tidy", `"=HYPERLINK(\"http://example.org\",\"tidy\")"`,
		"Neutral to earth volts", `"+49 neutral & <earth> 'volts' \"\U0001F600\" 中性点"`,
		"Use fused probes.", long+"\n    procedure: odd",
		"hold: energise", "hold: energise\n    procedure: odd",
		"\nsteps:", "\nprocedures: [{id: odd, title: '=1+1', number: '+TP-7 <b>', revision: '@B'}]\nsteps:",
		"Covers are refitted", "\"@SUM(1+1)*cmd|' /C calc'!A0\"",
	).Replace(string(data)))
	r := Of(t, "nasty.yaml", data)
	r.Wrapped("hv", nil, func(w *checks.Work) {
		if w.Answers["value"].Value > 11400 {
			w.Stop("HV volts above the plant's highest voltage: keep off the tap links and open the HV breaker at once")
		}
	})
	no := maps.Clone(Isolated)
	no["s2"], no["witness"] = "no", "ada"
	r.Take("isolated", no)
	r.Read("isolated", Isolated, nil, "=2+3 racked out now")
	r.Judge("isolated", "")
	r.Take("ir", Insulated)
	r.Put(report.EntryStep, "", report.Stepped{Hold: "energise", Action: "Close the HV breaker of T1", Taken: r.Now.Format(time.RFC3339)})
	r.Take("hv", Typed{"meter": "vt", "value": "11.62"})
	r.By = "eva"
	r.Put(report.EntryConcede, "hv", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Stop: "HV volts", Reason: long})
	r.By = "ada"
	swapped := maps.Clone(GoodVolts)
	swapped["l2n"] = "245.6"
	r.Read("volts", swapped, Typed{"l2n": "the meter shows it so, three times over; " + long}, "")
	r.Judge("volts", "")
	for _, text := range []string{"\t=1+1", "-5+cmd", "_x000D_ and _x005F_ and _xD800_", "bell \x07, escape \x1b[31m, return \r, null \x00, override \u202e",
		strings.Repeat("unbroken", 300), strings.Repeat(long+"\n", 30)} {
		r.Put(report.EntryNote, "earth-ref", report.Noted{Text: text})
	}
	for range 12 {
		r.Take("earth-ref", Typed{"meter": "dmm", "value": "58"})
	}
	r.Read("tidy", Typed{"who": "ada"}, nil, "")
	return r
}

// put on record a file that the book keeps.
func (r *Rig) Attach(check, name, caption string, content []byte) {
	r.Helper()
	d := chain.Draft{At: r.Now, By: r.By, Kind: report.EntryAttach, Check: check, Data: chain.NewAttached(name, content, caption, false), File: content}
	if _, err := r.Book.Append(Ctx, r.ID, -1, d); err != nil {
		r.Fatal(err)
	}
}

// Wrapped replaces the kind of a check by a copy whose judgement is followed by
// then, so that stops and freshness can be told with the plainest readings.
func (r *Rig) Wrapped(check string, change func(k *checks.Kind), then func(w *checks.Work)) {
	c := r.Plan.Check(check)
	k := *checks.KindOf(c)
	if change != nil {
		change(&k)
	}
	if then != nil {
		judge := k.Judge
		k.Judge = func(w *checks.Work) { judge(w); then(w) }
	}
	k.Take(c)
}
