package kinds

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// Every kind is held to the same rules, from the base trial of its case file.
func TestKindsConform(t *testing.T) {
	if len(plan.KindNames()) == 0 {
		t.Fatal("no kinds")
	}
	for _, name := range plan.KindNames() {
		t.Run(name, func(t *testing.T) {
			k := checks.KindNamed(name)
			if k.Title == "" || k.Group == "" || len(k.Cautions) == 0 || len(k.Sources) == 0 || k.Form == nil {
				t.Error("a kind gives title, group, cautions, sources and form")
			}
			if k.Live && !strings.Contains(strings.Join(k.Cautions, " "), "Live") {
				t.Error("a live check says so in its cautions")
			}
			f := cases.Read(t, name)
			trial, err := plan.LoadTrial(name+".json", f.Trial(t, nil))
			if err != nil {
				t.Fatal(err)
			}
			in, found, err := checks.JudgeTrial(trial)
			if err != nil {
				t.Fatal(err)
			}
			if found.Verdict != checks.Pass {
				t.Errorf("the base trial comes to %s (%q): it should pass, cases then change it", found.Verdict, found.Reasons)
			}
			formConforms(t, in)
			emptyNeverPasses(t, in)
			nanNeverPasses(t, in)
			workingConforms(t, found)
		})
	}
}

// What a check refers to by a ref tag is plant, an instrument or a check of some kind.
func TestReferencesName(t *testing.T) {
	named := append(plan.KindNames(), "transformer", "incomer", "board", "instrument")
	seen := 0
	var walk func(where string, of reflect.Type)
	walk = func(where string, of reflect.Type) {
		for i := range of.NumField() {
			f := of.Field(i)
			inner := f.Type
			for inner.Kind() == reflect.Slice {
				inner = inner.Elem()
			}
			ref, tagged := f.Tag.Lookup("ref")
			if tagged {
				seen++
			}
			if tagged && (inner.Kind() != reflect.String || !slices.Contains(named, ref)) {
				t.Errorf("%s.%s refers to a %q: %v are referred to, by a string", where, f.Name, ref, named)
			}
			if inner.Kind() == reflect.Struct && inner.PkgPath() == of.PkgPath() {
				walk(where+"."+f.Name, inner)
			}
		}
	}
	for _, name := range plan.KindNames() {
		walk(name, reflect.TypeOf(checks.KindNamed(name).Given()).Elem())
	}
	if seen < 30 {
		t.Errorf("%d references found: the types were not read", seen)
	}
}

func formConforms(t *testing.T, in checks.Input) {
	seen := map[string]bool{}
	for _, f := range in.Form() {
		if f.Key == "" || f.Label == "" || f.Example == "" || f.Sort == 0 {
			t.Errorf("field %+v: key, label, example and sort are wanted", f)
		}
		if seen[f.Key] || strings.ContainsAny(f.Key, " =/.") {
			t.Errorf("field %s: keys stand once and hold no space, =, / or dot", f.Key)
		}
		seen[f.Key] = true
		if f.Sort == checks.Measured && quantity.QuantityOf(f.Unit) == "" {
			t.Errorf("field %s: unit %q is not known", f.Key, f.Unit)
		}
		if f.Sort == checks.MeterUsed || f.Sort == checks.Initials {
			continue // the example names a plan's own ids
		}
		if _, err := checks.ParseAnswer(f, in.Plan, f.Example, in.At); err != nil {
			t.Errorf("field %s: its example is refused: %v", f.Key, err)
		}
	}
}

func emptyNeverPasses(t *testing.T, in checks.Input) {
	in.Answers = checks.Answers{}
	if f := checks.Judge(in); f.Verdict == checks.Pass {
		t.Error("no answers at all pass")
	}
	for _, f := range in.Form() {
		if !f.Need {
			continue
		}
		short := without(in, f.Key)
		if got := checks.Judge(short); got.Verdict == checks.Pass {
			t.Errorf("passes without needed field %s", f.Key)
		}
	}
}

func without(in checks.Input, key string) checks.Input {
	answers := checks.Answers{}
	for k, a := range in.Answers {
		if k != key {
			answers[k] = a
		}
	}
	in.Answers = answers
	return in
}

func nanNeverPasses(t *testing.T, in checks.Input) {
	for _, f := range in.Form() {
		a, ok := in.Answers[f.Key]
		if !ok || f.Sort != checks.Measured {
			continue
		}
		bad := without(in, f.Key)
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			a.Value = x
			bad.Answers[f.Key] = a
			if got := checks.Judge(bad); got.Verdict == checks.Pass {
				t.Errorf("passes with %v for %s", x, f.Key)
			}
		}
	}
}

func workingConforms(t *testing.T, f checks.Finding) {
	for _, d := range f.Derived {
		if len(d.Working()) == 0 || d.Name == "" || d.Key == "" {
			t.Errorf("derived value %+v: key, name and working are wanted", d)
		}
		if d.Limit != nil && d.Limit.Source == "" {
			t.Errorf("derived value %s: its limit has no source", d.Key)
		}
	}
}
