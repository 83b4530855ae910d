package network

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Each lock is somebody's: a device is free when the last one is off. Common practice of multiple locks on one point.
func TestUnlock_one_of_two(t *testing.T) {
	x := at(t, station())
	x.t2Off()
	x.do(lock("q2h", "9"), unlock("q2h", "1"))
	got := x.refuse(shut("q2h"), RuleLocked)
	if want := []string{"9"}; !slices.Equal(got[0].Locks, want) || len(got[0].Cure) != 1 || got[0].Cure[0].Lock != "9" {
		t.Errorf("%+v: want the lock left, 9, and its removal as cure", got[0])
	}
	x.do(unlock("q2h", "9"), shut("q2h"))
}

// What does not fit the drawing or the records is refused and changes nothing.
func TestAttempt_misfits(t *testing.T) {
	for name, c := range map[string]struct {
		step Step
		why  Why
	}{
		"no such device":            {open("q9"), WhyUnknown},
		"no device":                 {open(""), WhyUnknown},
		"no such act":               {Step{Act: "wave", Device: "qc"}, WhyUnknown},
		"no act":                    {Step{Device: "qc"}, WhyUnknown},
		"open already":              {open("qc"), WhyAlready},
		"earth off already":         {earthOff("e2h"), WhyAlready},
		"in service already":        {rackIn("qc"), WhyAlready},
		"a transformer opens":       {open("T1"), WhyCannot},
		"a lock on a transformer":   {lock("T1", "1"), WhyCannot},
		"a switch withdraws":        {withdraw("q2h"), WhyCannot},
		"a switch earths":           {earthOn("q2h"), WhyCannot},
		"an earth opens":            {open("e2h"), WhyCannot},
		"an earth is phased across": {phase("e2h"), WhyCannot},
		"a lock without a number":   {lock("qc", ""), WhyUnknown},
		"a lock that is not there":  {unlock("qc", "1"), WhyUnknown},
		"a lock on who knows what":  {lock("q1l", "1"), WhyPosition},
		"no such node":              {prove("n9"), WhyUnknown},
		"no such source":            {Step{Act: ActDischarge, Source: "F9"}, WhyUnknown},
		"no such key":               {Step{Act: ActKeyOut, Key: "K", Device: "qc"}, WhyUnknown},
		"nothing found":             {Step{Act: ActFound, Device: "qc"}, WhyUnknown},
		"a switch found withdrawn":  {Step{Act: ActFound, Device: "q2h", Found: &Standing{Pos: Open, Place: Withdrawn}}, WhyCannot},
		"no such document":          {cancel("P"), WhyUnknown},
		"nothing to clear":          {clear("P"), WhyUnknown},
		"a document of no type":     {issue("P", "", "t2h"), WhyUnknown},
		"a document without number": {issue("", Permit, "t2h"), WhyUnknown},
		"a document over nothing":   {issue("P", Permit), WhyUnknown},
		"a document over no node":   {issue("P", Permit, "n9"), WhyUnknown},
	} {
		t.Run(name, func(t *testing.T) {
			x := at(t, station())
			x.do(found("q1l", ""))
			s, m := x.s, x.m
			o := x.try(c.step)
			if !slices.ContainsFunc(o.Refused, func(r Refusal) bool { return r.Rule == RuleState && r.Why == c.why && r.Authority == Amend }) {
				t.Errorf("%+v: want state, %s", o.Refused, c.why)
			}
			if d := cmp.Diff(s, o.State) + cmp.Diff(m, o.Memory); d != "" {
				t.Errorf("a refused step changed\n%s", d)
			}
		})
	}
}

// A withdrawable breaker closes in test place for trials, is racked only open, and does not close withdrawn. Common practice.
func TestMove_racking(t *testing.T) {
	x := at(t, station())
	x.refuse(withdraw("q2l"), RuleWithdrawn)
	x.do(open("q2l"), Step{Act: ActTestPlace, Device: "q2l"}, shut("q2l"))
	if n := x.node("B"); len(n.MayLive) > 0 {
		t.Errorf("closed in test place, B may be live from %v", n.MayLive)
	}
	if x.node("t2l").Isolated {
		t.Error("test place is no gap")
	}
	x.refuse(rackIn("q2l"), RuleWithdrawn)
	x.do(open("q2l"), withdraw("q2l"))
	x.refuse(shut("q2l"), RuleWithdrawn)
}

func TestInterlock(t *testing.T) {
	x := at(t, interlocked())
	x.do(open("q2l"), open("q2h"), withdraw("q2l"))
	got := x.refuse(shut("q2h"), RuleInterlock)
	want := Refusal{Rule: RuleInterlock, Device: "q2h", Devices: []string{"q2l"}, Cure: []Step{rackIn("q2l")}, Authority: PlanWord}
	if d := cmp.Diff([]Refusal{want}, got); d != "" {
		t.Errorf("(want -, got +)\n%s", d)
	}
	// On the plan's word it may be overridden: somebody with a reason does.
	step := shut("q2h")
	step.Overrides = []Override{{Rule: RuleInterlock, Person: "R. Vale", Reason: "interlock switch under repair"}}
	x.refuse(step, RuleInterlock)
	step.Leave = []Rule{RuleInterlock}
	if o := x.p.Attempt(x.s, x.m, step); len(o.Refused) > 0 || len(o.Overridden) != 1 || o.State["q2h"].Pos != Closed {
		t.Errorf("%+v %+v: want it overridden and done", o.Refused, o.Overridden)
	}
}

// An interlock that keeps an earth is nobody's to override.
func TestInterlock_of_an_earth(t *testing.T) {
	x := at(t, interlocked())
	x.do(open("q2l"), withdraw("q2l"), Step{Act: ActKeyOut, Key: "K2", Device: "q2l"}, Step{Act: ActKeyIn, Key: "K2", Device: "e2h"})
	step := earthOn("e2h")
	step.Leave = []Rule{RuleInterlock}
	step.Overrides = []Override{{Rule: RuleInterlock, Person: "R. Vale", Reason: "none"}}
	got := x.refuse(step, RuleInterlock, RuleLiveEarth, RuleNotIsolated, RuleNotProved)
	if i := slices.IndexFunc(got, func(r Refusal) bool { return r.Rule == RuleInterlock }); got[i].Authority != Never {
		t.Errorf("%+v: want never", got[i])
	}
}

// A cure names what is lacking and no more.
func TestCure_lacks_only(t *testing.T) {
	for name, c := range map[string]struct {
		got, want []Step
	}{
		"needs open and withdrawn, is open":   {Device{ID: "q", Kind: Breaker}.reach(Condition{Pos: Open, Place: Withdrawn}, Standing{Pos: Open, Place: Service}), []Step{withdraw("q")}},
		"needs open and withdrawn, is closed": {Device{ID: "q", Kind: Breaker}.reach(Condition{Pos: Open, Place: Withdrawn}, Standing{Pos: Closed, Place: Service}), []Step{open("q"), withdraw("q")}},
		"needs an earth on":                   {Device{ID: "e", Kind: EarthSwitch}.reach(Condition{Pos: Closed}, Standing{Pos: Open, Place: Service}), []Step{earthOn("e")}},
		"a breaker that isolates":             {Device{ID: "q", Kind: Breaker, Isolates: &yes}.isolate(Standing{Pos: Closed, Place: Service}), []Step{open("q"), lock("q", "")}},
		"a breaker that is withdrawn":         {Device{ID: "q", Kind: Breaker}.isolate(Standing{Pos: Open, Place: Withdrawn}), []Step{lock("q", "")}},
		"a switch that is locked open":        {Device{ID: "q", Kind: Switch}.isolate(Standing{Pos: Open, Locks: []string{"1"}}), nil},
	} {
		if d := cmp.Diff(c.want, c.got); d != "" {
			t.Errorf("%s (want -, got +)\n%s", name, d)
		}
	}
}

func TestKey(t *testing.T) {
	out := func(d string) Step { return Step{Act: ActKeyOut, Key: "K2", Device: d} }
	in := func(d string) Step { return Step{Act: ActKeyIn, Key: "K2", Device: d} }
	x := at(t, interlocked())
	got := x.refuse(out("q2l"), RuleKey)
	if d := cmp.Diff([]Step{withdraw("q2l")}, got[0].Cure); d != "" {
		t.Errorf("cure (want -, got +)\n%s", d)
	}
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), prove("t2h"))
	got = x.refuse(earthOn("e2h"), RuleKey)
	if d := cmp.Diff([]Step{out("q2l"), in("e2h")}, got[0].Cure); d != "" || got[0].Authority != Never {
		t.Errorf("%s, cure (want -, got +)\n%s", got[0].Authority, d)
	}
	x.refuse(in("e2h"), RuleState) // it is still in the breaker
	x.do(out("q2l"))
	x.refuse(rackIn("q2l"), RuleKey)
	x.refuse(out("q2l"), RuleState)
	x.do(in("e2h"), earthOn("e2h"))
	x.refuse(out("e2h"), RuleKey) // trapped while the earth is on
	if left := x.p.Left(nil, x.s, x.m); !slices.ContainsFunc(left, func(l Leftover) bool { return l.What == LeftKey && l.Is[0] == "e2h" }) {
		t.Errorf("%+v: want the key away from home", left)
	}
}

// What happened is recorded, whatever it breaks.
func TestFound(t *testing.T) {
	x := at(t, station())
	x.t2Earthed()
	x.do(issue("P1", Permit, "t2h", "t2l"))
	o := x.try(found("q2h", Unknown))
	if len(o.Refused) > 0 || x.s["q2h"].Pos != Unknown {
		t.Fatalf("%+v: want it recorded", o.Refused)
	}
	if got, want := rules(o.Broken), []Rule{RuleOntoEarth, RuleUnderDocument}; !slices.Equal(got, want) {
		t.Errorf("broken %v, want %v", got, want)
	}
	if n := x.node("t2h"); n.Isolated || n.Secured || len(n.MayLive) == 0 || len(n.Live) > 0 {
		t.Errorf("%+v: behind a switch of unknown position it may be live and is not isolated", n)
	}
}
