package seal

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// failedRig is a job in which nothing is accepted unsigned, with a finding that failed.
func failedRig(t testing.TB) *rig.Rig {
	r := rig.Opened(t, "keyed.yaml", keyedPlan(t), report.AcceptancesSigned)
	r.Take("isolated", rig.Isolated)
	r.Take("ir", rig.Insulated) // fails: the tester is out of date
	return r
}

// accepts puts an acceptance of the insulation on record past the program, as it comes out
// of change and signed with a key; nil for none.
func accepts(r *rig.Rig, namespace string, key ssh.Signer, change func(a *chain.Acceptance, c *report.Conceded)) {
	r.Helper()
	a, c, err := r.Job().NewAcceptance("ir", "eva", "compared with a resistor")
	if err != nil {
		r.Fatal(err)
	}
	a.At = r.Now
	if change != nil {
		change(&a, &c)
	}
	if key != nil {
		text, err := a.Encode()
		if err != nil {
			r.Fatal(err)
		}
		armoured, err := chain.SignIn(namespace, text, key)
		if err != nil {
			r.Fatal(err)
		}
		c.Signed = &report.Signed{Statement: string(text), Signature: armoured}
	}
	r.By = "eva"
	r.Put(report.EntryConcede, "ir", c)
	r.By = "ada"
}

// What is put on record past the program accepts nothing, and is named; a key that is
// not known accepts nothing either, and leaves the record whole.
func TestAcceptance_forged(t *testing.T) {
	for _, c := range []struct {
		name, key, namespace string
		change               func(*chain.Acceptance, *report.Conceded)
		void, fault          string
	}{
		{name: "as it should be", key: "eva"},
		{name: "by a key not known", key: "stranger", void: "by a key not known"},
		{name: "by another's key", key: "ada", void: "by a key not known"},
		{name: "unsigned", void: "it is not signed", fault: "that is not signed"},
		{name: "in the namespace of statements", key: "eva", namespace: chain.StatementNamespace, void: "its signature does not hold", fault: "made for namespace"},
		{name: "another reason", key: "eva", change: func(_ *chain.Acceptance, c *report.Conceded) { c.Reason = "the owner allows it" }, void: "reason", fault: `signed with reason "compared`},
		{name: "another attempt", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.Attempt = 2 }, void: "attempt", fault: `signed with attempt "2"`},
		{name: "another entry", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.Entry-- }, void: "entry", fault: "signed with entry"},
		{name: "another record", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.Hash = strings.Repeat("0", 64) }, void: "hash", fault: "signed with hash of the entry"},
		{name: "another plan", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.PlanHash = strings.Repeat("0", 64) }, void: "plan", fault: "signed with hash of the plan"},
		{name: "another job", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.Job = "other-1" }, void: "job", fault: `signed with job "other-1"`},
		{name: "another check", key: "eva", change: func(a *chain.Acceptance, _ *report.Conceded) { a.Of = "hv" }, void: "accepts", fault: "signed with what it accepts"},
	} {
		r := failedRig(t)
		var key ssh.Signer
		if c.key != "" {
			key = keyOf(t, c.key)
		}
		if c.namespace == "" {
			c.namespace = chain.AcceptanceNamespace
		}
		accepts(r, c.namespace, key, c.change)
		j := r.Job()
		s := j.State("ir")
		if void := s.Concession.Void; s.IsConceded() != (c.void == "") || !strings.Contains(void, c.void) {
			t.Errorf("%s: conceded %v, void %q, want %q", c.name, s.IsConceded(), void, c.void)
		}
		faults := j.RuleFaults()
		if c.fault == "" && len(faults) > 0 || c.fault != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.fault) }) {
			t.Errorf("%s: %q, want %q", c.name, faults, c.fault)
		}
	}
}

// Every byte of what was signed, and of the signature, counts.
func TestAcceptance_everyByte(t *testing.T) {
	r := failedRig(t)
	a, _, err := r.Job().NewAcceptance("ir", "eva", "compared")
	if err != nil {
		t.Fatal(err)
	}
	a.At = r.Now
	text, err := a.Encode()
	if err != nil {
		t.Fatal(err)
	}
	armoured, err := chain.SignIn(chain.AcceptanceNamespace, text, keyOf(t, "eva"))
	if err != nil {
		t.Fatal(err)
	}
	j := r.Job()
	if p := j.Prove(&report.Signed{Statement: string(text), Signature: armoured}, a); p.Doubt() != "" {
		t.Fatal(p.Doubt())
	}
	for i := range text {
		changed := bytes.Clone(text)
		changed[i] ^= 1
		if p := j.Prove(&report.Signed{Statement: string(changed), Signature: armoured}, a); p.Doubt() == "" {
			t.Errorf("byte %d of the acceptance is another, and it is taken", i)
		}
	}
}

// A job from before acceptances were signed, and a plan that allows it, take them unsigned
// and show them as such; a signature that does not hold counts nowhere.
func TestAcceptance_unsigned(t *testing.T) {
	allowed := append(keyedPlan(t), "\nunsigned_acceptance: yes\n"...)
	for name, r := range map[string]*rig.Rig{"old": rig.Of(t, "keyed.yaml", keyedPlan(t)), "allowed": rig.Of(t, "keyed.yaml", allowed),
		"allowed and opened so": rig.Opened(t, "keyed.yaml", allowed, report.AcceptancesSigned)} {
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated)
		accepts(r, "", nil, nil)
		j := r.Job()
		if s := j.State("ir"); !s.IsConceded() || j.Proof(s.Concession.Seq).Words() != "unsigned" || len(j.RuleFaults()) > 0 {
			t.Errorf("%s: conceded %v, %q, %q", name, s.IsConceded(), j.Proof(s.Concession.Seq).Words(), j.RuleFaults())
		}
		accepts(r, chain.AcceptanceNamespace, keyOf(t, "eva"), func(a *chain.Acceptance, _ *report.Conceded) { a.Reason = "something else" })
		if s := r.Job().State("ir"); s.IsConceded() || !strings.Contains(s.Concession.Void, "does not hold") {
			t.Errorf("%s: a signature over another reason is taken", name)
		}
	}
}

// A word by telephone frees the hold point that takes it alone, and one that no command
// takes is named.
func TestAcceptance_telephone(t *testing.T) {
	text := strings.Replace(string(keyedPlan(t)), "needs: [volts, earth-ref]", "needs: [volts, earth-ref, ir]", 1)
	allowed := []byte(strings.Replace(text, "  - hold: energise\n", "  - hold: energise\n    telephone: yes\n", 1))
	if !strings.Contains(string(allowed), "earth-ref, ir]") || string(allowed) == text {
		t.Fatal("the hold points of the plan are not where they were")
	}
	const minute = "2026-03-02T07:30:00+01:00"
	first := rig.Opened(t, "keyed.yaml", allowed, report.AcceptancesSigned)
	first.Take("isolated", rig.Isolated)
	first.Take("ir", rig.Insulated)
	judged := first.Job().Head().At.Truncate(time.Second) // as in every record below
	good := report.Telephoned{Number: "01632 960113", Called: minute, Words: "one point two megohms accepted for this night", Listened: "ben"}
	for _, c := range []struct {
		name, by string
		plan     []byte
		change   func(*report.Telephoned)
		fault    string
	}{
		{name: "as it should be"},
		{name: "a plan that takes none", plan: keyedPlan(t), fault: "no hold point that needs ir takes a word by telephone"},
		{name: "recorded by the engineer", by: "eva", fault: "not the engineer who was called"},
		{name: "the caller listened", change: func(t *report.Telephoned) { t.Listened = "ada" }, fault: "a second person listens"},
		{name: "nobody listened", change: func(t *report.Telephoned) { t.Listened = "" }, fault: "a second person listens"},
		{name: "no number", change: func(t *report.Telephoned) { t.Number = "" }, fault: "the number that was called"},
		{name: "no words", change: func(t *report.Telephoned) { t.Words = "ok" }, fault: "gives no reason"},
		{name: "no time", change: func(t *report.Telephoned) { t.Called = "" }, fault: "cannot parse"},
		{name: "long ago", change: func(t *report.Telephoned) { t.Called = "2026-03-01T07:30:00+01:00" }, fault: "within 12 hours of the call"},
		{name: "before the job was opened", change: func(t *report.Telephoned) { t.Called = rig.Dawn.Add(-time.Hour).Format(time.RFC3339) }, fault: "nobody accepts what is not there yet"},
		{name: "before it was judged", change: func(t *report.Telephoned) {
			t.Called = judged.Add(-report.ClockSlack - time.Second).Format(time.RFC3339)
		}, fault: "nobody accepts what is not there yet"},
		{name: "by a telephone that is slow", change: func(t *report.Telephoned) { t.Called = judged.Add(-report.ClockSlack).Format(time.RFC3339) }},
		{name: "to come", change: func(t *report.Telephoned) { t.Called = "2026-03-02T19:30:00+01:00" }, fault: "within 12 hours of the call"},
	} {
		if c.plan == nil {
			c.plan = allowed
		}
		r := rig.Opened(t, "keyed.yaml", c.plan, report.AcceptancesSigned)
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated)
		call := good
		if c.change != nil {
			c.change(&call)
		}
		_, data, err := r.Job().NewAcceptance("ir", "eva", "compared with a resistor")
		if err != nil {
			t.Fatal(err)
		}
		data.Telephone = &call
		if c.by != "" {
			r.By = c.by
		}
		r.Put(report.EntryConcede, "ir", data)
		j := r.Job()
		if j.State("ir").IsConceded() != (c.fault == "") {
			t.Errorf("%s: void %q", c.name, j.State("ir").Concession.Void)
		}
		faults := j.RuleFaults()
		if c.fault == "" && len(faults) > 0 || c.fault != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.fault) }) {
			t.Errorf("%s: %q, want %q", c.name, faults, c.fault)
		}
		if c.fault != "" {
			continue
		}
		for _, h := range []string{"energise", "close"} {
			waits := slices.ContainsFunc(j.Gaps(j.Plan.Hold(h), r.Now), func(g report.Gap) bool { return g.Check == "ir" })
			if waits != (h == "close") {
				t.Errorf("hold %s waits for ir: %v", h, waits)
			}
		}
	}
}

// The data of the handover tell of an acceptance what shows who gave it; those of a job
// from before acceptances were signed are the same as ever.
func TestAcceptance_handed(t *testing.T) {
	lax := append(keyedPlan(t), "\nunsigned_acceptance: yes\n"...)
	for name, c := range map[string]struct {
		rig    *rig.Rig
		key    string
		change func(*chain.Acceptance, *report.Conceded)
		want   string
	}{
		"signed":   {failedRig(t), "eva", nil, `"key":"SHA256:`},
		"stranger": {failedRig(t), "stranger", nil, `"doubt":true,"engineer":"eva"`},
		"unsigned": {rig.Opened(t, "keyed.yaml", lax, report.AcceptancesSigned), "", nil, `"unsigned":true`},
		"called": {failedRig(t), "", func(_ *chain.Acceptance, c *report.Conceded) {
			c.Telephone = &report.Telephoned{Number: "01632 960113", Called: "2026-03-02T07:30:00+01:00", Words: "accepted for this night", Listened: "ben"}
		}, `"telephone":true`},
		"old": {rig.Of(t, "keyed.yaml", lax), "", nil, `{"attempt":1,"check":"ir","engineer":"eva","entry":6,"reason":"compared with a resistor","verdict":"fail"}`},
	} {
		r := c.rig
		if name == "unsigned" || name == "old" {
			r.Take("isolated", rig.Isolated)
			r.Take("ir", rig.Insulated)
		}
		var key ssh.Signer
		if c.key != "" {
			key = keyOf(t, c.key)
		}
		accepts(r, chain.AcceptanceNamespace, key, c.change)
		data, err := r.Job().HandoverData(r.Now)
		if err != nil {
			t.Fatal(err)
		}
		_, told, _ := strings.Cut(string(data), `"concessions":[`)
		if told, _, _ = strings.Cut(told, "]"); !strings.Contains(told, c.want) || name == "signed" && strings.Contains(told, "doubt") {
			t.Errorf("%s: %s, want %s", name, told, c.want)
		}
	}
}
