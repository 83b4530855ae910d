package seal

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/crypto/ssh"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/report/page"
	"handback/testdata/rig"
)

// keyOf is the invented Ed25519 key of a person, the same in every run.
func keyOf(t testing.TB, person string) ssh.Signer {
	t.Helper()
	seed := sha256.Sum256([]byte("invented key of " + person))
	k, err := ssh.NewSignerFromKey(ed25519.NewKeyFromSeed(seed[:]))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// keyedPlan is a plan of testdata whose people have keys.
func keyedPlan(t testing.TB) []byte {
	t.Helper()
	data := rig.PlanText(t, "pump.yaml")
	text := string(data)
	for _, id := range []string{"ada", "ben", "eva", "odo"} {
		from := "{id: " + id + ","
		if !strings.Contains(text, from) {
			t.Fatalf("no person %s", id)
		}
		text = strings.Replace(text, from, from+" keys: ["+chain.KeyLine(keyOf(t, id).PublicKey())+"],", 1)
	}
	return []byte(text)
}

// keyedRig is a job of a keyed plan with one check taken.
func keyedRig(t testing.TB) *rig.Rig {
	r := rig.Of(t, "keyed.yaml", keyedPlan(t))
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	return r
}

// statement is what a person would sign now.
func statement(r *rig.Rig, person string) chain.Statement {
	r.Helper()
	p := r.Plan.Person(person)
	s, err := r.Job().NewStatement(p, p.Role, r.Now.Add(time.Minute))
	if err != nil {
		r.Fatal(err)
	}
	return signable(r).NamedIn(s)
}

// signable is what a person would look at now.
func signable(r *rig.Rig) Signable {
	r.Helper()
	docs, err := NewSignable(bagged(r))
	if err != nil {
		r.Fatal(err)
	}
	return docs
}

// signs puts a statement on record as if its person had signed it, behind the documents
// as they are now.
func signs(r *rig.Rig, s chain.Statement, key ssh.Signer) {
	r.Helper()
	drafts := []chain.Draft{}
	if p := r.Plan.Person(s.Person); p != nil {
		drafts = signable(r).Drafts(p)
	}
	signsWith(r, s, key, drafts...)
}

// signsWith does so behind some entries.
func signsWith(r *rig.Rig, s chain.Statement, key ssh.Signer, drafts ...chain.Draft) {
	r.Helper()
	b, err := s.Encode()
	if err != nil {
		r.Fatal(err)
	}
	armoured, err := chain.SignStatement(b, key)
	if err != nil {
		r.Fatal(err)
	}
	r.Now = r.Now.Add(time.Minute)
	drafts = append(drafts, chain.Draft{Kind: report.EntrySign, By: s.Person, Data: report.Signed{Statement: string(b), Signature: armoured}})
	for i := range drafts {
		drafts[i].At = r.Now
	}
	if _, err := r.Book.Append(rig.Ctx, r.ID, -1, drafts...); err != nil {
		r.Fatal(err)
	}
}

// sign signs properly.
func sign(r *rig.Rig, person string) {
	r.Helper()
	signs(r, statement(r, person), keyOf(r, person))
}

func checked(r *rig.Rig, trust chain.Signers) []report.Checked {
	r.Helper()
	c, err := r.Job().CheckSignatures(trust)
	if err != nil {
		r.Fatal(err)
	}
	return c
}

func TestSignatures_good(t *testing.T) {
	r := keyedRig(t)
	for _, person := range []string{"ada", "eva", "odo"} {
		sign(r, person)
	}
	r.Put(report.EntryNote, "", report.Noted{Text: "keys of the switchroom handed back"})
	var got []string
	for _, c := range checked(r, nil) {
		got = append(got, strings.Join([]string{r.Job().SignedWords(c.Signature), c.Key, c.Doubt()}, " | "))
	}
	key := func(p string) string { return " | " + ssh.FingerprintSHA256(keyOf(t, p).PublicKey()) + " | " }
	agree(t, []string{
		"signed by Ada Example as technician, 2026-03-02 07:33:00 +01:00: covers entries 1–3; 1 entry after it" + key("ada"),
		"signed by Eva Muster as engineer, 2026-03-02 07:34:00 +01:00: covers entries 1–6; 1 entry after it" + key("eva"),
		"signed by Odo Invent as owner, 2026-03-02 07:35:00 +01:00: covers entries 1–9; 1 entry after it" + key("odo"),
	}, got)
	d := r.Document(r.Now)
	if len(d.Signatures) != 3 || d.Signatures[1].Person != "eva" || d.Signatures[1].Entry != 9 || d.Signatures[1].Doubt != "" {
		t.Errorf("document: %+v", d.Signatures)
	}
	text, err := page.Text(d)
	if err != nil || !strings.Contains(strings.Join(strings.Fields(text), " "), "signed by Eva Muster as engineer, 2026-03-02 07:34:00 +01:00: covers entries 1–6; 1 entry after it key SHA256:") {
		t.Errorf("text: %v\n%s", err, text)
	}
	if words := d.Log[8].Text; !strings.HasPrefix(words, "signed by Eva Muster as engineer") {
		t.Errorf("log: %s", words)
	}
}

func agree(t testing.TB, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}

// A signature is open to a look when entries came after it, and no more when its
// role signed again.
func TestSignatures_flags(t *testing.T) {
	r := keyedRig(t)
	flags := func() []string {
		var out []string
		for _, f := range r.Job().Flags(r.Now) {
			if f.What == report.FlagSignature {
				_, covers, _ := strings.Cut(f.Text, ": covers ")
				out = append(out, map[bool]string{true: "OPEN ", false: "closed "}[f.Open]+covers)
			}
		}
		return out
	}
	sign(r, "eva")
	sign(r, "odo")
	eva, odo := "; signed with workbook in entry 4, page in entry 5", "; signed with workbook in entry 7, page in entry 8"
	agree(t, []string{"closed entries 1–3" + eva, "closed entries 1–6" + odo}, flags())
	r.Put(report.EntryNote, "", report.Noted{Text: "one more"})
	agree(t, []string{"OPEN entries 1–3; 1 entry after it" + eva, "OPEN entries 1–6; 1 entry after it" + odo}, flags())
	sign(r, "eva")
	agree(t, []string{"closed entries 1–3; 1 entry after it" + eva, "OPEN entries 1–6; 1 entry after it" + odo,
		"closed entries 1–10; signed with workbook in entry 11, page in entry 12"}, flags())
}

// What is not shown to be good stays open though its role signed again.
func TestSignatures_doubtfulStaysOpen(t *testing.T) {
	r := keyedRig(t)
	s := statement(r, "eva")
	s.Entries--
	signs(r, s, keyOf(r, "eva"))
	r.Put(report.EntryNote, "", report.Noted{Text: "one more"})
	sign(r, "eva")
	var open []bool
	for _, f := range r.Job().Flags(r.Now) {
		if f.What == report.FlagSignature {
			open = append(open, f.Open)
		}
	}
	agree(t, []bool{true, false}, open)
}

func TestMaySign(t *testing.T) {
	stop := func(r *rig.Rig) {
		r.Wrapped("hv", nil, func(w *checks.Work) { w.Stop("keep off the links") })
		r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
	}
	for _, c := range []struct {
		name, person, role string
		names              bool
		story              func(*rig.Rig)
		want               string
	}{
		{name: "technician", person: "ada", role: "technician"},
		{name: "technician who took nothing", person: "ben", role: "technician"},
		{name: "engineer", person: "eva", role: "engineer"},
		{name: "not their role", person: "ada", role: "engineer", want: "Ada Example is technician in the plan, and signs as nothing else"},
		{name: "no role", person: "ada", role: "witness", want: "accepted are technician, engineer, owner"},
		{name: "engineer who read", person: "eva", role: "engineer", story: func(r *rig.Rig) {
			r.By = "eva"
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
		}, want: "Eva Muster recorded readings of this job (entry 4): who tests does not sign as engineer, unless the plan says tester_may_verify: yes"},
		{name: "engineer who corrected", person: "eva", role: "engineer", story: func(r *rig.Rig) {
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
			r.By = "eva"
			r.Put(report.EntryCorrect, "hv", report.Corrected{Attempt: 1, Answers: r.Answers("hv", rig.Typed{"value": "11.21"}, nil), Why: "misread"})
		}, want: "recorded readings of this job (entry 6)"},
		{name: "plan allows it", person: "eva", role: "engineer", story: func(r *rig.Rig) {
			r.Plan.TesterMayVerify = true
			r.By = "eva"
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
		}},
		{name: "engineer who conceded and noted", person: "eva", role: "engineer", story: func(r *rig.Rig) {
			r.Take("ir", rig.Insulated)
			r.By = "eva"
			r.Put(report.EntryConcede, "ir", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "compared"})
			r.Put(report.EntryNote, "", report.Noted{Text: "looked"})
		}},
		{name: "stop", person: "eva", role: "engineer", story: stop, want: "a stop stands at check hv: keep off the links; take the check again, or sign a statement that names the stop with --name-stops"},
		{name: "stop named", person: "eva", role: "engineer", names: true, story: stop},
		{name: "technician beside a stop", person: "ada", role: "technician", story: stop},
		{name: "owner alone", person: "odo", role: "owner", want: "no engineer has signed: an owner signs after an engineer"},
		{name: "owner after a technician", person: "odo", role: "owner", story: func(r *rig.Rig) { sign(r, "ada") }, want: "no engineer has signed"},
		{name: "owner after an engineer", person: "odo", role: "owner", story: func(r *rig.Rig) { sign(r, "eva"); sign(r, "ada") }},
		{name: "owner after more", person: "odo", role: "owner", story: func(r *rig.Rig) { sign(r, "eva"); r.Put(report.EntryNote, "", report.Noted{Text: "x"}) },
			want: "1 entry came after the engineer's signature (entry 6): the engineer signs again first"},
		{name: "owner after the second", person: "odo", role: "owner", story: func(r *rig.Rig) { sign(r, "eva"); r.Put(report.EntryNote, "", report.Noted{Text: "x"}); sign(r, "eva") }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := keyedRig(t)
			if c.story != nil {
				c.story(r)
			}
			err := r.Job().MaySign(r.Plan.Person(c.person), c.role, c.names)
			if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// Whatever is untrue in a statement that was put on record past the program is named.
func TestCheckSignatures_faults(t *testing.T) {
	other := strings.Repeat("0", 64)
	for _, c := range []struct {
		name  string
		story func(*rig.Rig)
		want  string // of the newest signature
	}{
		{"head", func(r *rig.Rig) { s := statement(r, "eva"); s.Head = other; signs(r, s, keyOf(r, "eva")) }, `the statement gives as head hash "0000`},
		{"number", func(r *rig.Rig) { s := statement(r, "eva"); s.Entries = 2; signs(r, s, keyOf(r, "eva")) }, `the statement gives as number of entries "2", the record gives "3"`},
		{"moved", func(r *rig.Rig) {
			s := statement(r, "eva")
			r.Put(report.EntryNote, "", report.Noted{Text: "slipped in"})
			signs(r, s, keyOf(r, "eva"))
		}, `number of entries "3", the record gives "4"`},
		{"job", func(r *rig.Rig) { s := statement(r, "eva"); s.Job = "pump-t1-2"; signs(r, s, keyOf(r, "eva")) }, `as job "pump-t1-2", the record gives "pump-t1-1"`},
		{"plan", func(r *rig.Rig) { s := statement(r, "eva"); s.PlanHash = other; signs(r, s, keyOf(r, "eva")) }, `as hash of the plan "0000`},
		{"name", func(r *rig.Rig) { s := statement(r, "eva"); s.Name = "Eva Other"; signs(r, s, keyOf(r, "eva")) }, `as name "Eva Other"`},
		{"verdict", func(r *rig.Rig) { s := statement(r, "eva"); s.Verdict = chain.Ready; signs(r, s, keyOf(r, "eva")) }, `as verdict "ready", the record gives "not-ready"`},
		{"digest", func(r *rig.Rig) { s := statement(r, "eva"); s.Handover = other; signs(r, s, keyOf(r, "eva")) }, `as digest of the handover data "0000`},
		{"stop unnamed", func(r *rig.Rig) {
			r.Wrapped("hv", nil, func(w *checks.Work) { w.Stop("keep off the links") })
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
			s := statement(r, "eva")
			s.Stops = nil
			signs(r, s, keyOf(r, "eva"))
		}, `as list of stops "none", the record gives "hv, attempt 1, `},
		{"stop invented", func(r *rig.Rig) {
			s := statement(r, "eva")
			s.Stops = []chain.Stop{{Check: "hv", Attempt: 1, Code: "invented", Text: "x"}}
			signs(r, s, keyOf(r, "eva"))
		}, `the record gives "none"`},
		{"code of a stop", func(r *rig.Rig) {
			r.Wrapped("hv", nil, func(w *checks.Work) { w.Stop("keep off the links") })
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
			s := statement(r, "eva")
			s.Stops[0].Code = "another"
			signs(r, s, keyOf(r, "eva"))
		}, `as list of stops "hv, attempt 1, another", the record gives "hv, attempt 1`},
		{"workbook of another", func(r *rig.Rig) {
			s := statement(r, "eva")
			s.Workbook = other
			signs(r, s, keyOf(r, "eva"))
		}, "the workbook that entry 4 keeps with it is not the one that was signed: SHA-256 "},
		{"no documents", func(r *rig.Rig) { signsWith(r, statement(r, "eva"), keyOf(r, "eva")) },
			"the workbook that was signed is not stored with it: no entry right before it holds one; the page that was signed is not stored"},
		{"page stripped", func(r *rig.Rig) {
			signsWith(r, statement(r, "eva"), keyOf(r, "eva"), signable(r).Drafts(r.Plan.Person("eva"))[:1]...)
		}, "the page that was signed is not stored with it"},
		{"workbook twice", func(r *rig.Rig) {
			d := signable(r).Drafts(r.Plan.Person("eva"))
			signsWith(r, statement(r, "eva"), keyOf(r, "eva"), d[0], d[0], d[1])
		}, "entry 5 keeps a second workbook with it"},
		{"documents of another", func(r *rig.Rig) {
			d := signable(r).Drafts(r.Plan.Person("eva"))
			d[0].By = "ada"
			signsWith(r, statement(r, "eva"), keyOf(r, "eva"), d...)
		}, "entry 4, which keeps its workbook, was made by ada"},
		{"role", func(r *rig.Rig) { s := statement(r, "ada"); s.Role = "engineer"; signs(r, s, keyOf(r, "ada")) }, "Ada Example is technician in the plan"},
		{"tester", func(r *rig.Rig) {
			r.By = "eva"
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
			sign(r, "eva")
		}, "who tests does not sign as engineer"},
		{"owner first", func(r *rig.Rig) { sign(r, "odo") }, "no engineer has signed"},
		{"stranger", func(r *rig.Rig) {
			s := statement(r, "eva")
			s.Person = "zoe"
			signs(r, s, keyOf(r, "eva"))
		}, `person "zoe" is not in the plan`},
		{"recorded by another", func(r *rig.Rig) {
			s := statement(r, "eva")
			b, _ := s.Encode()
			armoured, _ := chain.SignStatement(b, keyOf(r, "eva"))
			r.Put(report.EntrySign, "", report.Signed{Statement: string(b), Signature: armoured})
		}, "it was recorded by ada, but is the statement of eva"},
		{"key of nobody", func(r *rig.Rig) { signs(r, statement(r, "eva"), keyOf(r, "nobody")) }, "is not listed for eva"},
		{"key of another", func(r *rig.Rig) { signs(r, statement(r, "eva"), keyOf(r, "odo")) }, "is not listed for eva"},
		{"one key for two", func(r *rig.Rig) {
			sign(r, "eva")
			signs(r, statement(r, "odo"), keyOf(r, "eva"))
		}, "signed for eva before: a key is one person's"},
		{"other bytes", func(r *rig.Rig) {
			b, _ := statement(r, "eva").Encode()
			armoured, _ := chain.SignStatement(append(b, '\n'), keyOf(r, "eva"))
			r.By = "eva"
			r.Put(report.EntrySign, "", report.Signed{Statement: string(b), Signature: armoured})
		}, "the signature does not fit the statement"},
		{"no statement", func(r *rig.Rig) {
			armoured, _ := chain.SignStatement([]byte("{}"), keyOf(r, "eva"))
			r.By = "eva"
			r.Put(report.EntrySign, "", report.Signed{Statement: "{}", Signature: armoured})
		}, "statement: v: missing"},
		{"newer statement", func(r *rig.Rig) {
			b, _ := statement(r, "eva").Encode()
			b = bytes.Replace(b, []byte(`"v":1`), []byte(`"v":2`), 1)
			armoured, _ := chain.SignStatement(b, keyOf(r, "eva"))
			r.By = "eva"
			r.Put(report.EntrySign, "", report.Signed{Statement: string(b), Signature: armoured})
		}, "version 2, this program knows 1"},
		{"no signature", func(r *rig.Rig) {
			b, _ := statement(r, "eva").Encode()
			r.By = "eva"
			r.Put(report.EntrySign, "", report.Signed{Statement: string(b), Signature: "x"})
		}, "the signature cannot be read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := keyedRig(t)
			c.story(r)
			all := checked(r, nil)
			last := all[len(all)-1]
			if !strings.Contains(last.Doubt(), c.want) {
				t.Errorf("doubt %q, want %q", last.Doubt(), c.want)
			}
			if n := len(r.Job().Signatures); n != len(all) {
				t.Errorf("%d signatures, %d checked", n, len(all))
			}
			open := slices.ContainsFunc(r.Job().Flags(r.Now), func(f report.Flag) bool {
				return f.What == report.FlagSignature && f.Open && strings.Contains(f.Text, "NOT SHOWN TO BE GOOD")
			})
			if !open {
				t.Error("no open flag says so")
			}
			text, err := page.Text(r.Document(r.Now))
			if err != nil || !strings.Contains(text, "NOT SHOWN TO BE GOOD") {
				t.Errorf("the text does not say so: %v", err)
			}
		})
	}
}

// A list of keys from outside is trusted instead of the plan's, not besides it.
func TestCheckSignatures_outsideList(t *testing.T) {
	r := keyedRig(t)
	sign(r, "eva")
	list, err := chain.ParseSigners([]byte("odo "+chain.KeyLine(keyOf(t, "odo").PublicKey())), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	if got := checked(r, list)[0]; got.Unlisted == "" || len(got.Faults) > 0 {
		t.Errorf("a key that the list does not have: %+v", got)
	}
	if got := checked(r, chain.Signers{}); got[0].Unlisted == "" {
		t.Error("an empty list allows a key")
	}
	list[0].People, list[0].Key = "eva", keyOf(t, "eva").PublicKey()
	if got := checked(r, list)[0]; got.Doubt() != "" {
		t.Errorf("a key that the list has: %s", got.Doubt())
	}
}

// What a stop is told with is no part of what is compared: a better wording makes no
// signature false that was given before.
func TestCheckSignatures_otherWords(t *testing.T) {
	r := keyedRig(t)
	r.Wrapped("hv", nil, func(w *checks.Work) { w.Stop("keep off the links") })
	r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
	s := statement(r, "eva")
	s.Stops[0].Text = "stay away from the tap links"
	signs(r, s, keyOf(r, "eva"))
	if c := checked(r, nil); len(c) != 1 || c[0].Doubt() != "" || c[0].Statement.Verdict != chain.Stopped {
		t.Errorf("%+v", c)
	}
}
