package alone

import (
	"maps"
	"math"
	"os"
	"testing"

	"handback/checks"
	"handback/checks/calc"
	_ "handback/checks/kinds"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
	"handback/testdata/outside"
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }

// number is a choice's word when a number stands in the cell, in the field's own unit.
func number(c calc.Choice, x float64) string {
	return calc.Decide(c, func(string) calc.Content { return calc.Content{Number: x, Word: "1"} })
}

// word is its word when a word does.
func word(c calc.Choice, w string) string {
	return calc.Decide(c, func(string) calc.Content { return calc.Content{Number: math.NaN(), Word: w} })
}

// judged is what the check comes to with one answer in place of another.
func judged(in checks.Input, key string, a checks.Answer) string {
	in.Answers = maps.Clone(in.Answers)
	in.Answers[key] = a
	if len(in.Refused()) > 0 {
		return checks.Unreached
	}
	return checks.Judge(in).Verdict.Shown()
}

// Of every kind's base trial, the choice of each field gives the recorded verdict at the
// recorded answer, and never a better one than Judge gives of another.
func TestOf_never_flatters(t *testing.T) {
	kinds := map[string]string{}
	for _, name := range plan.KindNames() {
		kinds[name] = name
	}
	same, all := 0, 0
	for _, name := range outside.Some(kinds) {
		trial, err := plan.LoadTrial(name+".json", cases.Read(t, name).Trial(t, nil))
		if err != nil {
			t.Fatal(err)
		}
		in, found, err := checks.JudgeTrial(trial)
		if err != nil {
			t.Fatal(err)
		}
		if lean := checks.VerdictOf(in); lean != found.Verdict {
			t.Errorf("%s: the verdict alone is %s, the finding's %s", name, lean, found.Verdict)
		}
		left := 1 << 20
		for _, f := range in.Form() {
			was, ok := in.Answers[f.Key]
			if !ok {
				continue
			}
			c := Of(in, f, &left)
			switch f.Sort {
			case checks.Measured:
				own := quantity.FromBase(was.Value, f.Unit)
				if got := number(c, own); got != found.Verdict.Shown() {
					t.Errorf("%s, %s: as recorded it comes to %s, want %s", name, f.Key, got, found.Verdict)
				}
				for _, by := range []float64{0.37, 0.913, 0.9971, 1.0007, 1.063, 1.7, 43} {
					a := was
					a.Value = quantity.ToBase(own*by, f.Unit)
					all++
					switch is, want := number(c, own*by), judged(in, f.Key, a); {
					case is == want:
						same++
					case is == checks.Pass.Shown():
						t.Errorf("%s, %s = %v: %s, judged it comes to %s", name, f.Key, own*by, is, want)
					}
				}
			case checks.Choice:
				for _, o := range f.Options {
					if is, want := word(c, o), judged(in, f.Key, checks.Answer{Typed: o, Word: o}); is != want {
						t.Errorf("%s, %s = %s: %s, judged it comes to %s", name, f.Key, o, is, want)
					}
				}
				if is := word(c, "none of them"); is != checks.Unreached {
					t.Errorf("%s, %s: a word that is no answer comes to %s", name, f.Key, is)
				}
			}
			if want := word(c, ""); want == checks.Pass.Shown() && f.Need {
				t.Errorf("%s, %s: nothing passes", name, f.Key)
			}
		}
	}
	if share := float64(same) / float64(max(1, all)); !(share >= 0.95) {
		t.Errorf("%d of %d numbers come to what they are judged to come to", same, all)
	}
}

// Once no probe is left nothing is known.
func TestOf_out_of_probes(t *testing.T) {
	trial, err := plan.LoadTrial("measure.json", cases.Read(t, "measure").Trial(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	in, _, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range in.Form() {
		none := 0
		if got := number(Of(in, f, &none), in.Answers[f.Key].Value); got != checks.Unreached {
			t.Errorf("%s: %s without a probe", f.Key, got)
		}
	}
}
