package review_test

import (
	"slices"
	"testing"
	"time"

	"handback/checks"
	"handback/report"
	"handback/report/review"
	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }

// named finds a point, nil when there is none.
func named(points []review.Point, what, check string) *review.Point {
	if i := slices.IndexFunc(points, func(p review.Point) bool { return p.What == what && p.Check == check }); i >= 0 {
		return &points[i]
	}
	return nil
}

// A job with something of everything gives a point of each, with the values of the attempt
// that it stands on.
func TestPoints_everything(t *testing.T) {
	r := rig.Told(t)
	r.Put(report.EntryDefect, "", report.Raised{Defect: 1, What: "a door sticks"})
	points := review.Points(r.Job(), r.Now, "eva")
	for _, want := range []struct{ what, check string }{
		{report.FlagVerdict, "ir"}, {report.FlagVerdict, "volts"}, {report.FlagRepeat, "volts"}, {report.FlagCorrected, "volts"}, {report.FlagKept, "earth-ref"},
		{report.FlagSkipped, "tidy"}, {report.FlagConceded, "ir"}, {report.FlagDefect, ""}, {review.WhatNote, "earth-ref"},
	} {
		if named(points, want.what, want.check) == nil {
			t.Errorf("no point %s of %q", want.what, want.check)
		}
	}
	if p := named(points, report.FlagConceded, "ir"); p.New {
		t.Error("what the engineer made is new to them")
	}
	p := named(points, report.FlagVerdict, "volts")
	if p == nil || p.Attempt != 1 || !p.New || len(p.Values) == 0 {
		t.Fatalf("the failed attempt: %+v", p)
	}
	if !slices.ContainsFunc(p.Values, func(v review.Value) bool {
		return v.Verdict == checks.Fail && v.Limit != "" && v.Margin != "" && len(v.Working) > 0
	}) {
		t.Errorf("no value that failed, with its limit, margin and working: %+v", p.Values)
	}
	if of := review.Of(r.Job(), "hv"); of.What != review.WhatCheck || of.Attempt != 1 || len(of.Values) == 0 {
		t.Errorf("a check that passes: %+v", of)
	}
}

// What an engineer looked at is new no longer, to them; looked at while it was closed, it
// is new once it is open. What stands on no entry is always new.
func TestPoints_looked(t *testing.T) {
	r := rig.Told(t)
	before := review.Points(r.Job(), r.Now, "eva")
	skip := named(before, report.FlagSkipped, "tidy")
	if skip == nil || !skip.New || !skip.Open {
		t.Fatalf("the skip: %+v", skip)
	}
	look := func(l ...report.Looked) {
		r.By = "eva"
		r.Put(report.EntryReview, "", report.Reviewed{Points: l})
		r.By = "ada"
	}
	closed := skip.Looked
	closed.Open = false
	look(closed, report.Looked{What: report.FlagRecomputed})
	if !named(review.Points(r.Job(), r.Now, "eva"), report.FlagSkipped, "tidy").New {
		t.Error("an open point that was looked at while it was closed is not new")
	}
	look(skip.Looked)
	after := review.Points(r.Job(), r.Now, "eva")
	if named(after, report.FlagSkipped, "tidy").New {
		t.Error("what was looked at is new")
	}
	if len(after) != len(before) || !after[0].New || after[len(after)-1].New {
		t.Errorf("%d points, before it %d; the first is new: %v, the last: %v", len(after), len(before), after[0].New, after[len(after)-1].New)
	}
	if !named(review.Points(r.Job(), r.Now, "another"), report.FlagSkipped, "tidy").New {
		t.Error("what one engineer looked at is not new to another")
	}
	if named(review.Points(r.Job(), r.Now, ""), report.FlagSkipped, "tidy").New {
		t.Error("what an engineer looked at is new to nobody in particular")
	}
}

// A step recorded more than ten minutes after it was done is a point, one recorded within
// them is none.
func TestPoints_late(t *testing.T) {
	for minutes, want := range map[int]bool{9: false, 10: true} { // it is recorded a minute later
		r := rig.New(t, "pump.yaml")
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated)
		taken := r.Now.Add(-time.Duration(minutes) * time.Minute)
		r.Put(report.EntryStep, "", report.Stepped{Hold: "energise", Action: "Close the HV breaker of T1", Taken: taken.Format(time.RFC3339)})
		p := named(review.Points(r.Job(), r.Job().Head().At, "eva"), review.WhatLate, "")
		if (p != nil) != want {
			t.Errorf("%d minutes late: %+v", minutes, p)
		}
		if p != nil && p.Step != "energise" {
			t.Errorf("it names step %q", p.Step)
		}
	}
}

// So is an acceptance that was given by telephone and recorded later than that.
func TestPoints_calledLate(t *testing.T) {
	for minutes, want := range map[int]bool{9: false, 10: true} { // it is recorded a minute later
		r := rig.New(t, "pump.yaml")
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated)
		_, data, err := r.Job().NewAcceptance("ir", "eva", "compared with a resistor")
		if err != nil {
			t.Fatal(err)
		}
		data.Telephone = &report.Telephoned{Number: "01632 960113", Called: r.Now.Add(-time.Duration(minutes) * time.Minute).Format(time.RFC3339), Words: "accepted for this night", Listened: "odo"}
		r.Put(report.EntryConcede, "ir", data)
		if p := named(review.Points(r.Job(), r.Now, "eva"), review.WhatLate, "ir"); (p != nil) != want {
			t.Errorf("%d minutes late: %+v", minutes, p)
		}
	}
}

// An answer is news to who asked: the point stands on it.
func TestPoints_answered(t *testing.T) {
	r := rig.Told(t)
	ask := r.Job().NewRemark(report.RemarkQuestion, "hv", "", 0, "which range was set?")
	r.By = "eva"
	r.Put(report.EntryRemark, "hv", ask)
	r.By = "ada"
	if p := named(review.Points(r.Job(), r.Now, "eva"), report.FlagQuestion, "hv"); p == nil || p.New || !p.Open {
		t.Errorf("asked: %+v", p)
	}
	r.Put(report.EntryAnswer, "", report.Answered{Remark: 1, Text: "the 15 kV range"})
	if p := named(review.Points(r.Job(), r.Now, "eva"), report.FlagQuestion, "hv"); p == nil || !p.New || p.Open || p.Entry != r.Job().Head().Seq {
		t.Errorf("answered: %+v", p)
	}
}
