package checks

import (
	"math"
	"strings"
	"testing"
)

// Every kind is held to the same rules, from the base trial of its case file.
func TestKindsConform(t *testing.T) {
	if len(KindNames()) == 0 {
		t.Fatal("no kinds")
	}
	for _, name := range KindNames() {
		t.Run(name, func(t *testing.T) {
			k := KindNamed(name)
			if k.Title == "" || k.Group == "" || len(k.Cautions) == 0 || len(k.Sources) == 0 || k.Form == nil || k.Judge == nil {
				t.Error("a kind gives title, group, cautions, sources, form and judgement")
			}
			if k.Live && !strings.Contains(strings.Join(k.Cautions, " "), "Live") {
				t.Error("a live check says so in its cautions")
			}
			f := readCases(t, name)
			trial, err := LoadTrial(name+".json", f.trial(t, nil))
			if err != nil {
				t.Fatal(err)
			}
			in, found, err := trial.Judge()
			if err != nil {
				t.Fatal(err)
			}
			if found.Verdict != Pass {
				t.Errorf("the base trial comes to %s (%q): it should pass, cases then change it", found.Verdict, found.Reasons)
			}
			formConforms(t, in)
			emptyNeverPasses(t, in)
			nanNeverPasses(t, in)
			workingConforms(t, found)
		})
	}
}

func formConforms(t *testing.T, in Input) {
	seen := map[string]bool{}
	for _, f := range in.Form() {
		if f.Key == "" || f.Label == "" || f.Example == "" || f.Sort == 0 {
			t.Errorf("field %+v: key, label, example and sort are wanted", f)
		}
		if seen[f.Key] || strings.ContainsAny(f.Key, " =/.") {
			t.Errorf("field %s: keys stand once and hold no space, =, / or dot", f.Key)
		}
		seen[f.Key] = true
		if f.Sort == Measured && QuantityOf(f.Unit) == "" {
			t.Errorf("field %s: unit %q is not known", f.Key, f.Unit)
		}
		if f.Sort == MeterUsed || f.Sort == Initials {
			continue // the example names a plan's own ids
		}
		if _, err := ParseAnswer(f, in.Plan, f.Example, in.At); err != nil {
			t.Errorf("field %s: its example is refused: %v", f.Key, err)
		}
	}
}

func emptyNeverPasses(t *testing.T, in Input) {
	in.Answers = Answers{}
	if f := Judge(in); f.Verdict == Pass {
		t.Error("no answers at all pass")
	}
	for _, f := range in.Form() {
		if !f.Need {
			continue
		}
		short := without(in, f.Key)
		if got := Judge(short); got.Verdict == Pass {
			t.Errorf("passes without needed field %s", f.Key)
		}
	}
}

func without(in Input, key string) Input {
	answers := Answers{}
	for k, a := range in.Answers {
		if k != key {
			answers[k] = a
		}
	}
	in.Answers = answers
	return in
}

func nanNeverPasses(t *testing.T, in Input) {
	for _, f := range in.Form() {
		a, ok := in.Answers[f.Key]
		if !ok || f.Sort != Measured {
			continue
		}
		bad := without(in, f.Key)
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			a.Value = x
			bad.Answers[f.Key] = a
			if got := Judge(bad); got.Verdict == Pass {
				t.Errorf("passes with %v for %s", x, f.Key)
			}
		}
	}
}

func workingConforms(t *testing.T, f Finding) {
	for _, d := range f.Derived {
		if len(d.Working) == 0 || d.Name == "" || d.Key == "" {
			t.Errorf("derived value %+v: key, name and working are wanted", d)
		}
		if d.Limit != nil && d.Limit.Source == "" {
			t.Errorf("derived value %s: its limit has no source", d.Key)
		}
	}
}
