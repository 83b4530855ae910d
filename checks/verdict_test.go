package checks

import (
	"encoding/json"
	"slices"
	"testing"
)

// The order in which verdicts outweigh one another.
var rising = []Verdict{Pass, Inconclusive, Missing, Fail, Void}

func TestWorst(t *testing.T) {
	if len(rising) != len(Verdicts()) {
		t.Fatalf("%d verdicts in order, %d in all", len(rising), len(Verdicts()))
	}
	for i, a := range rising {
		for j, b := range rising {
			if got, want := Worst(a, b), rising[max(i, j)]; got != want {
				t.Errorf("Worst(%s, %s) is %s, want %s", a, b, got, want)
			}
		}
	}
}

func TestVerdict_zeroIsMissing(t *testing.T) {
	var v Verdict
	if v != Missing || v.String() != "missing" || (Finding{}).Verdict != Missing {
		t.Errorf("the zero verdict is %s", v)
	}
}

func TestVerdict_text(t *testing.T) {
	if want := []string{"missing", "pass", "inconclusive", "fail", "void"}; !slices.Equal(Verdicts(), want) {
		t.Errorf("the words are %q, want %q", Verdicts(), want)
	}
	for _, v := range rising {
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		back := Verdict(99)
		if err := json.Unmarshal(b, &back); err != nil || back != v {
			t.Errorf("%s comes back as %s, %v", b, back, err)
		}
	}
	for _, bad := range []string{`"PASS"`, `"Pass"`, `"passed"`, `""`, `" pass"`, `1`, `true`} {
		v := Fail
		if err := json.Unmarshal([]byte(bad), &v); err == nil || v != Fail {
			t.Errorf("%s is read as %s, %v", bad, v, err)
		}
	}
	for _, bad := range []Verdict{-1, 5, 99} {
		if b, err := bad.MarshalText(); err == nil {
			t.Errorf("verdict %d is written as %q", int(bad), b)
		}
		if bad.String() == "pass" {
			t.Errorf("verdict %d is called pass", int(bad))
		}
	}
}
