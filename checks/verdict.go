package checks

import (
	"fmt"
	"strings"
)

// Verdict is what a finding comes to. Its zero value is Missing, which never
// passes. The words pass, fail and inconclusive are those of ISO/IEC 9646-1.
type Verdict int

const (
	Missing      Verdict = iota // something that must be answered was not
	Pass                        // shown to be within every limit
	Inconclusive                // neither shown within nor shown beyond a limit
	Fail                        // shown to be beyond a limit, or a condition not met
	Void                        // the proof itself failed: nothing it said counts
)

var verdictWords = [...]string{"missing", "pass", "inconclusive", "fail", "void"}

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

// weight orders verdicts for combining: a void proof outweighs a failure, a
// failure outweighs a gap, a gap outweighs a doubt.
var weight = [...]int{Pass: 0, Inconclusive: 1, Missing: 2, Fail: 3, Void: 4}

// Worse is the verdict of two that weighs more: pass, inconclusive, missing,
// fail, void in rising order.
func Worse(a, b Verdict) Verdict {
	if weight[b] > weight[a] {
		return b
	}
	return a
}
