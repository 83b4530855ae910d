package chain

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// acceptedBy is a whole acceptance in an invented job.
func acceptedBy() Acceptance {
	return Acceptance{V: 1, Job: "pump-1", Entry: 7, Hash: strings.Repeat("a", 64), PlanHash: strings.Repeat("b", 64), Accepts: AcceptsFinding, Of: "hv",
		Attempt: 2, Verdict: "fail", Text: "11250 V is above 11200 V", Reason: "supply is high today", Role: "engineer", Person: "eva", Name: "Eva Muster", At: dawn}
}

// What is signed can be written down by hand from the definition, as RFC 8785 has it.
func TestAcceptance_bytes(t *testing.T) {
	want := `{"accepts":"finding","at":"2026-03-01T06:30:00.25+05:30","attempt":2,"entry":7,"hash":"` + strings.Repeat("a", 64) +
		`","job":"pump-1","name":"Eva Muster","of":"hv","person":"eva","plan_hash":"` + strings.Repeat("b", 64) +
		`","reason":"supply is high today","role":"engineer","text":"11250 V is above 11200 V","v":1,"verdict":"fail"}`
	got, err := acceptedBy().Encode()
	if err != nil {
		t.Fatal(err)
	}
	same(t, want, string(got))
	back, err := ParseAcceptance(got)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(acceptedBy(), back); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	for name, is := range map[string]string{"blank": want + " ", "newer": strings.Replace(want, `"v":1`, `"v":2`, 1), "unknown": strings.Replace(want, `"of"`, `"off"`, 1),
		"empty stop": strings.Replace(want, `"text"`, `"stop":"","text"`, 1), "a statement": `{"v":1}`} {
		if _, err := ParseAcceptance([]byte(is)); err == nil {
			t.Errorf("%s: read as an acceptance", name)
		}
	}
}

func TestAcceptance_refused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Acceptance)
		want   string
	}{
		"job":         {func(a *Acceptance) { a.Job = "pump" }, "job id"},
		"no entry":    {func(a *Acceptance) { a.Entry = 0 }, "entry 0"},
		"hash":        {func(a *Acceptance) { a.Hash = strings.Repeat("A", 64) }, "hash"},
		"plan":        {func(a *Acceptance) { a.PlanHash = "" }, "plan_hash"},
		"anything":    {func(a *Acceptance) { a.Accepts = "all" }, `it accepts "all"`},
		"role":        {func(a *Acceptance) { a.Role = "witness" }, `role "witness"`},
		"no reason":   {func(a *Acceptance) { a.Reason = "" }, "reason is empty"},
		"nobody":      {func(a *Acceptance) { a.Person = "" }, "person is empty"},
		"name":        {func(a *Acceptance) { a.Name = "Eva\nMuster" }, "U+000A"},
		"no time":     {func(a *Acceptance) { a.At = time.Time{} }, "no time"},
		"odd offset":  {func(a *Acceptance) { a.At = dawn.In(time.FixedZone("", 61)) }, "whole minutes"},
		"not UTF-8":   {func(a *Acceptance) { a.Stop = "a\xff" }, "UTF-8"},
		"beyond size": {func(a *Acceptance) { a.Reason = strings.Repeat("x", maxStatement) }, "at most"},
	} {
		a := acceptedBy()
		c.change(&a)
		if b, err := a.Encode(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %s, %v; want an error with %q", name, b, err, c.want)
		}
	}
}

// A key's signature counts in the namespace it was made for alone, and so does its listing.
func TestSignIn_namespaces(t *testing.T) {
	key := seedKey(t, 1)
	list, err := ParseSigners([]byte(`eva namespaces="`+AcceptanceNamespace+`" `+KeyLine(key.PublicKey())), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	for _, made := range []string{StatementNamespace, AcceptanceNamespace} {
		armoured, err := SignIn(made, []byte("x"), key)
		if err != nil {
			t.Fatal(err)
		}
		for _, as := range []string{StatementNamespace, AcceptanceNamespace} {
			if _, err := CheckIn(as, []byte("x"), armoured); (err == nil) != (made == as) {
				t.Errorf("made in %s, checked in %s: %v", made, as, err)
			}
		}
		if err := list.AllowIn(made, "eva", key.PublicKey(), dawn); (err == nil) != (made == AcceptanceNamespace) {
			t.Errorf("listed for acceptances, used in %s: %v", made, err)
		}
	}
}
