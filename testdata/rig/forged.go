package rig

import (
	"bytes"
	"maps"
	"os"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/network"
	"handback/records/chain"
	"handback/report"
)

// Forgery is what another hand puts into a job, against one rule of the record.
type Forgery struct {
	Rule  string
	Words string       // that name the breach
	Plant bool         // the job is on section B, which has a network
	Story func(r *Rig) // what goes before, and is sound
	Put   func(r *Rig) // the forgery
}

// Open opens the job of a forgery and tells what goes before it.
func (f Forgery) Open(t testing.TB) *Rig {
	t.Helper()
	r := (*Rig)(nil)
	if f.Plant {
		r = Of(t, "section_b.yaml", sectionB(t))
	} else {
		r = New(t, "pump.yaml")
		r.Take("isolated", Isolated)
		r.Take("ir", Insulated) // fails: the tester is out of date
	}
	if f.Story != nil {
		f.Story(r)
	}
	return r
}

// sectionB is a plan of the scripts, from the folder of any package that tests with it.
func sectionB(t testing.TB) []byte {
	t.Helper()
	for _, up := range []string{"..", "../.."} {
		if data, err := os.ReadFile(up + "/testdata/scripts/shared/section_b.yaml"); err == nil {
			return bytes.Replace(data, []byte("id: mira"), []byte("id: ada"), 1) // as the rig calls its technician
		}
	}
	t.Fatal("section_b.yaml is not where it was")
	return nil
}

func (r *Rig) putBy(by, kind, check string, data any) {
	r.Helper()
	was := r.By
	r.By = by
	r.Put(kind, check, data)
	r.By = was
}

func (r *Rig) did(id, action string, over ...network.Override) {
	r.Helper()
	d := report.Stepped{Step: id, Action: action, Taken: r.Now.Format(time.RFC3339), Confirmed: "jonas", Overrides: over}
	if action == "" {
		d.Action = r.Plan.Step(id).Action
	}
	if r.Plan.Hold(id) != nil {
		d.Hold, d.Step = id, ""
	}
	r.Put(report.EntryStep, "", d)
}

func (r *Rig) undid(id, why string) {
	r.Helper()
	u := report.Undone{Step: id, Done: r.Now.Format(time.RFC3339), Why: why}
	if r.Plan.Hold(id) != nil {
		u.Hold, u.Step = id, ""
	}
	r.Put(report.EntryUndo, "", u)
}

func (r *Rig) concedes(by, engineer, reason string, v checks.Verdict) {
	r.Helper()
	r.putBy(by, report.EntryConcede, "ir", report.Conceded{Attempt: 1, Engineer: engineer, Verdict: v, Reason: reason})
}

func (r *Rig) amends(why, title string) {
	r.Helper()
	text := strings.Replace(string(PlanText(r, "pump.yaml")), "Transformer T1 back to service", title, 1)
	r.Put(report.EntryAmend, "", report.Amended{Why: why, PlanFile: "pump.yaml", PlanHash: chain.HashPlan([]byte(text)), Plan: text})
}

func (r *Rig) attaches(change func(a *chain.Attached)) {
	r.Helper()
	content := []byte("not what it says")
	a := chain.NewAttached("f.txt", content, "a file", false)
	change(&a)
	r.Now = r.Now.Add(time.Minute)
	if _, err := r.Book.Append(Ctx, r.ID, -1, chain.Draft{At: r.Now, By: r.By, Kind: report.EntryAttach, Data: a, File: content}); err != nil {
		r.Fatal(err)
	}
}

// typedOtherwise is a good answer with another text beside the value that is stored.
func (r *Rig) typedOtherwise(check, key, typed string, said Typed) checks.Answers {
	r.Helper()
	out := maps.Clone(r.Answers(check, said, nil))
	a := out[key]
	a.Typed = typed
	out[key] = a
	return out
}

// Forgeries break every rule of the record, one each.
func Forgeries() []Forgery {
	return append(joinForgeries(), []Forgery{
		{Rule: "person", Words: `"nobody", who made it, is no person of the plan`, Put: func(r *Rig) { r.putBy("nobody", report.EntryNote, "", report.Noted{Text: "all well"}) }},
		{Rule: "order", Words: "it was read out of order", Put: func(r *Rig) { r.Read("hv", Typed{"value": "11 kV"}, nil, "") }},
		{Rule: "repeat-reason", Words: "repeats one before and does not say why", Put: func(r *Rig) { r.Read("ir", Insulated, nil, "") }},
		{Rule: "typed", Words: `s1: "no" was typed`, Put: func(r *Rig) {
			r.Put(report.EntryRead, "isolated", report.Read{Attempt: 2, Answers: r.typedOtherwise("isolated", "s1", "no", Isolated), Why: "looked again"})
		}},
		{Rule: "correction-reason", Words: "a correction that does not say why", Put: func(r *Rig) {
			r.Put(report.EntryCorrect, "isolated", report.Corrected{Attempt: 1, Answers: checks.Answers{"s1": r.Answers("isolated", Isolated, nil)["s1"]}})
		}},
		{Rule: "skip-reason", Words: "a check left out", Put: func(r *Rig) { r.Put(report.EntrySkip, "tidy", report.Skipped{}) }},
		{Rule: "note-words", Words: "a note without a word", Put: func(r *Rig) { r.Put(report.EntryNote, "", report.Noted{Text: " "}) }},
		{Rule: "amendment-reason", Words: "an amendment of the plan that does not say why", Put: func(r *Rig) { r.amends("", "T1 back") }},
		{Rule: "amendment", Words: "an acceptance of the plan that accepts nothing", Put: func(r *Rig) {
			r.putBy("eva", report.EntryAccept, "", report.AcceptedPlan{PlanHash: r.Job().PlanHash, Reason: "as agreed"})
		}},
		{Rule: "review", Words: "a remark that no command writes", Put: func(r *Rig) {
			r.Put(report.EntryRemark, "ir", report.Remarked{Remark: 1, Sort: report.RemarkOrder, Attempt: 1, Text: "take it again, dry"})
		}},
		{Rule: "bad-reason", Words: "an instrument found bad, and it does not say why", Put: func(r *Rig) {
			r.Put(report.EntryBad, "", report.FoundBad{Serial: "EX-300", Since: Dawn.Format(time.RFC3339)})
		}},
		{Rule: "defect-words", Words: "a defect that does not say what it is", Put: func(r *Rig) { r.Put(report.EntryDefect, "", report.Raised{Defect: 1}) }},
		{Rule: "close-words", Words: "it does not say what was done", Story: func(r *Rig) { r.Put(report.EntryDefect, "", report.Raised{Defect: 1, What: "lamp out"}) },
			Put: func(r *Rig) { r.Put(report.EntryClose, "", report.Closed{Defect: 1}) }},
		{Rule: "acceptance-person", Words: "a concession by Ada Example, who is technician", Put: func(r *Rig) { r.concedes("ada", "ada", "looks fine", checks.Fail) }},
		{Rule: "acceptance-reason", Words: "a concession that does not say why", Put: func(r *Rig) { r.concedes("eva", "eva", "", checks.Fail) }},
		{Rule: "acceptance-proof", Words: "whose signature does not hold", Put: func(r *Rig) {
			r.putBy("eva", report.EntryConcede, "ir", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "looks fine", Signed: &report.Signed{Statement: "{}", Signature: "none"}})
		}},
		{Rule: "acceptance-finding", Words: "a concession of inconclusive, the finding was fail", Put: func(r *Rig) { r.concedes("eva", "eva", "looks fine", checks.Inconclusive) }},
		{Rule: "document", Words: `and no signature by "ada" follows it`, Put: func(r *Rig) { r.attaches(func(a *chain.Attached) { a.Document = chain.DocumentPage }) }},
		{Rule: "stamp", Words: "a time stamp of entry 99, which was not there yet", Put: func(r *Rig) { r.attaches(func(a *chain.Attached) { a.Stamped = 99 }) }},
		{Rule: "step-action", Words: `its step is "Have a look at T1"`, Put: func(r *Rig) { r.did("energise", "Have a look at T1") }},
		{Rule: "step-rules", Words: "the step earth was done against the rules live_earth", Plant: true, Put: func(r *Rig) { r.did("earth", "") }},
		{Rule: "step-waits", Words: "the step open-q2 was done while it waited for defect 1", Plant: true,
			Story: func(r *Rig) {
				r.Put(report.EntryDefect, "", report.Raised{Defect: 1, What: "handle of Q2 bent", Holds: "open-q2"})
			}, Put: func(r *Rig) { r.did("open-q2", "") }},
		{Rule: "hold-waits", Words: "the step energise was done while it waited for ir", Put: func(r *Rig) { r.did("energise", "") }},
		{Rule: "override", Words: "overridden without a person and a reason", Plant: true, Put: func(r *Rig) {
			r.did("open-q2", "", network.Override{Rule: "live_earth"})
		}},
		{Rule: "undo-reason", Words: "a step undone, and it does not say why", Plant: true, Story: func(r *Rig) { r.did("open-q2", "") }, Put: func(r *Rig) { r.undid("open-q2", "") }},
		{Rule: "undo-for-good", Words: "the step begin was undone, and nothing undoes what it did", Plant: true, Story: func(r *Rig) { r.did("begin", "") }, Put: func(r *Rig) { r.undid("begin", "taken back") }},
		{Rule: "undo-rules", Words: "the step open-q2 was undone against the rules", Plant: true, Story: func(r *Rig) {
			for _, id := range []string{"open-q2", "earth"} {
				r.did(id, "")
			}
		}, Put: func(r *Rig) { r.undid("open-q2", "closed again") }},
		{Rule: "left-reason", Words: "a step left, and it does not say why", Plant: true, Put: func(r *Rig) { r.Put(report.EntryLeft, "", report.NotDone{Step: "open-q2"}) }},
		{Rule: "found-reason", Words: "a device found otherwise, and it does not say why", Plant: true, Put: func(r *Rig) {
			r.Put(report.EntryFound, "", report.FoundSo{Device: "tie", Position: "closed", Place: "service", Locks: []string{}, Seen: r.Now.Format(time.RFC3339)})
		}},
	}...)
}
