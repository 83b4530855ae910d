package checks

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks/calc"
)

// Verdict is what a finding comes to. Its zero value is Missing, which never
// passes. The words pass, fail and inconclusive are those of ISO/IEC 9646-1.
type Verdict int

const (
	Missing      Verdict = iota // something that must be answered was not
	Pass                        // shown to be within every limit
	Inconclusive                // neither shown within nor shown beyond a limit
	Fail                        // shown to be beyond a limit, or a condition not met
	Void                        // the proof itself failed: nothing it showed counts
)

var (
	verdictWords = [...]string{"missing", "pass", "inconclusive", "fail", "void"}
	verdictShown = [...]string{"MISSING", "PASS", "INCONCLUSIVE", "FAIL", "VOID"}
)

// Verdicts lists the words a verdict can be, in the order of their values.
func Verdicts() []string { return verdictWords[:] }

func (v Verdict) String() string {
	if v < 0 || int(v) >= len(verdictWords) {
		return fmt.Sprintf("verdict(%d)", int(v))
	}
	return verdictWords[v]
}

// MarshalText writes the verdict's word.
func (v Verdict) MarshalText() ([]byte, error) {
	if v < 0 || int(v) >= len(verdictWords) {
		return nil, fmt.Errorf("verdict %d: not one of %s", int(v), strings.Join(verdictWords[:], ", "))
	}
	return []byte(v.String()), nil
}

// UnmarshalText reads exactly what MarshalText writes.
func (v *Verdict) UnmarshalText(b []byte) error {
	for i, w := range verdictWords {
		if w == string(b) {
			*v = Verdict(i)
			return nil
		}
	}
	return fmt.Errorf("verdict %q: want one of %s", b, strings.Join(verdictWords[:], ", "))
}

// VerdictOf is the verdict alone of what Judge finds: how far values are off that are
// only shown is left out, and all words, which take most of the time.
func VerdictOf(in Input) Verdict {
	w := NewWork(in.there())
	w.lean, w.mute = true, true
	w.found.Derived = make([]Derived, 0, len(w.form))
	return w.all(in).Verdict
}

// Decided is of what Judge finds what decides: verdict, stop and reasons, without what is
// only shown. A reason that tells of such a value may be another.
func Decided(in Input) Finding {
	w := NewWork(in.there())
	w.lean = true
	return w.all(in)
}

// Shown is the verdict's word as a cell shows it.
func (v Verdict) Shown() string {
	if v < 0 || int(v) >= len(verdictShown) {
		return strings.ToUpper(v.String())
	}
	return verdictShown[v]
}

// chosen is the verdict that a choice comes to.
func chosen(c calc.Choice, at func(cell string) calc.Content) Verdict {
	word := calc.Decide(c, at)
	v := slices.Index(verdictShown[:], word)
	if v < 0 {
		panic("checks: a choice comes to " + word)
	}
	return Verdict(v)
}

// The cells of a choice between verdicts, beside those of answers.
const (
	CellVerdict  = "verdict"
	CellVerdicts = "verdicts" // an area of them
	CellChanged  = "changed"  // how many of what it rests on were changed in the workbook: none where we judge
)

// Unreached stands in a workbook for a verdict that hangs on what was changed there and
// that no formula works out. It is none: we never come to it.
const Unreached = "NOT RECOMPUTED"

// unlessChanged is a choice that holds as long as nothing was changed.
func unlessChanged(c calc.Choice) calc.Choice {
	return calc.If{Test: calc.Equals{Cell: CellChanged}, Then: c, Else: calc.Word(Unreached)}
}

// WorstOf chooses the verdict of n that weighs most: a void proof outweighs a failure, a
// failure a gap, a gap a doubt. It passes only when all do and nothing was changed.
func WorstOf(n int) calc.Choice {
	c := unlessChanged(calc.If{Test: calc.Count{Area: CellVerdicts, Word: Pass.Shown(), Exactly: n},
		Then: calc.Word(Pass.Shown()), Else: calc.Word(Inconclusive.Shown())})
	for _, v := range []Verdict{Missing, Fail, Void} {
		c = calc.If{Test: calc.Count{Area: CellVerdicts, Word: v.Shown(), Exactly: -1}, Then: calc.Word(v.Shown()), Else: c}
	}
	return c
}

// Worst is the verdict that weighs most, Pass of none.
func Worst(verdicts ...Verdict) Verdict {
	counts := map[string]int{}
	for _, v := range verdicts {
		counts[v.Shown()]++
	}
	return chosen(WorstOf(len(verdicts)), func(string) calc.Content { return calc.Content{Counts: counts} })
}

// WithoutFailure chooses a verdict as it stands, and keeps a failure that may rest on a
// doubted reading from counting.
func WithoutFailure() calc.Choice {
	return calc.If{Test: calc.Shows{Cell: CellVerdict, Word: Fail.Shown()}, Then: calc.Word(Inconclusive.Shown()), Else: calc.AsShown(CellVerdict)}
}
