package checks

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/testdata/cases"
)

// caseFile is testdata/cases/<kind>.json: a base trial and cases that each set
// some of its values. A path in set is dotted; answers, given and kept belong to
// the last check; null takes a value away.
type caseFile struct {
	Kind  string         `json:"kind"`
	Base  map[string]any `json:"base"`
	Cases []kindCase     `json:"cases"`

	// Never says why no case comes to a verdict, or stands at a limit (at_limit).
	Never map[string]string `json:"never"`
}

type kindCase struct {
	Name    string         `json:"name"`
	Source  string         `json:"source"` // where the expected outcome comes from
	AtLimit bool           `json:"at_limit"`
	Set     map[string]any `json:"set"`
	Want    struct {
		Verdict Verdict                `json:"verdict"`
		Says    []string               `json:"says"`    // each stands in some reason
		Stop    string                 `json:"stop"`    // stands in the stop's words
		Doubt   string                 `json:"doubt"`   // stands in some doubt
		Caution []string               `json:"caution"` // each stands in some caution
		Silent  []string               `json:"silent"`  // none stands in a reason, caution or stop
		Error   string                 `json:"error"`   // the trial is refused with these words
		Derived map[string]derivedWant `json:"derived"`
	} `json:"want"`
}

type derivedWant struct {
	Value   *float64 `json:"value"`
	Within  float64  `json:"within"` // absolute; 1e-6 relative when zero
	U       *float64 `json:"u"`
	Verdict *Verdict `json:"verdict"`
}

func TestCases(t *testing.T) {
	for _, name := range KindNames() {
		t.Run(name, func(t *testing.T) {
			f := readCases(t, name)
			seen := map[Verdict]int{}
			atLimit := 0
			for _, c := range f.Cases {
				t.Run(c.Name, func(t *testing.T) {
					runCase(t, f, c)
				})
				if c.Want.Error == "" {
					seen[c.Want.Verdict]++
				}
				if c.AtLimit {
					atLimit++
				}
				if c.Source == "" {
					t.Errorf("%s: no source: say where the expected outcome comes from", c.Name)
				}
			}
			for _, v := range []Verdict{Pass, Fail, Inconclusive, Missing} {
				f.wants(t, v.String(), seen[v])
			}
			f.wants(t, "at_limit", atLimit)
		})
	}
}

// wants demands that some case shows what, or that the file says why none can.
func (f caseFile) wants(t *testing.T, what string, shown int) {
	t.Helper()
	if why := f.Never[what]; (why == "") == (shown == 0) {
		t.Errorf("%d cases come to %s, never says %q: one or the other is wanted", shown, what, why)
	}
}

func readCases(t testing.TB, kind string) caseFile {
	t.Helper()
	path := filepath.Join("..", "testdata", "cases", kind+".json")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(strings.NewReader(string(data)))
	dec.DisallowUnknownFields()
	var f caseFile
	if err := dec.Decode(&f); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if f.Kind != kind || len(f.Cases) == 0 {
		t.Fatalf("%s: kind %q with %d cases", path, f.Kind, len(f.Cases))
	}
	return f
}

func (f caseFile) trial(t testing.TB, set map[string]any) []byte {
	t.Helper()
	tree, err := cases.Trial(f.Base, set)
	if err != nil {
		t.Fatal(err)
	}
	out, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func runCase(t *testing.T, f caseFile, c kindCase) {
	trial, err := LoadTrial(f.Kind+".json", f.trial(t, c.Set))
	var in Input
	var got Finding
	if err == nil {
		in, got, err = trial.Judge()
	}
	if c.Want.Error != "" {
		if err == nil || !strings.Contains(err.Error(), c.Want.Error) {
			t.Fatalf("error %v, want one that says %q", err, c.Want.Error)
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if in.Check.Kind.Name != f.Kind {
		t.Fatalf("judged a %s", in.Check.Kind.Name)
	}
	if got.Verdict != c.Want.Verdict {
		t.Errorf("verdict %s, want %s; reasons %q", got.Verdict, c.Want.Verdict, toldReasons(in.Check.Kind, got))
	}
	kind := in.Check.Kind
	stop, reasons := told(kind, got.Stop), strings.Join(toldReasons(kind, got), "\n")
	if c.Want.Stop == "" && stop != "" || !strings.Contains(stop, c.Want.Stop) {
		t.Errorf("stop %q, want %q", stop, c.Want.Stop)
	}
	for _, s := range c.Want.Says {
		if !strings.Contains(reasons, s) {
			t.Errorf("no reason says %q; reasons %q", s, reasons)
		}
	}
	cautions := strings.Join(toldCautions(kind, got), "\n")
	for _, s := range c.Want.Caution {
		if !strings.Contains(cautions, s) {
			t.Errorf("no caution says %q; cautions %q", s, cautions)
		}
	}
	for _, s := range c.Want.Silent {
		if strings.Contains(reasons+cautions+stop, s) {
			t.Errorf("%q is said; reasons %q, cautions %q, stop %q", s, reasons, cautions, stop)
		}
	}
	if c.Want.Doubt != "" {
		doubts := toldDoubts(in)
		if !strings.Contains(doubts, c.Want.Doubt) {
			t.Errorf("doubts %q, want one that says %q", doubts, c.Want.Doubt)
		}
	}
	for key, want := range c.Want.Derived {
		checkDerived(t, got, key, want)
	}
}

func checkDerived(t *testing.T, f Finding, key string, want derivedWant) {
	t.Helper()
	d, ok := f.Value(key)
	if !ok {
		t.Errorf("no derived value %s", key)
		return
	}
	if want.Value != nil {
		tol := want.Within
		if tol == 0 {
			tol = 1e-6 * math.Abs(*want.Value)
		}
		if !(math.Abs(d.Value-*want.Value) <= tol) {
			t.Errorf("%s is %.9g, want %.9g within %.2g", key, d.Value, *want.Value, tol)
		}
	}
	if want.U != nil && !(math.Abs(d.U-*want.U) <= math.Max(want.Within, 1e-3**want.U)) {
		t.Errorf("%s has U %.9g, want %.9g", key, d.U, *want.U)
	}
	if want.Verdict != nil && d.Verdict != *want.Verdict {
		t.Errorf("%s is judged %s, want %s", key, d.Verdict, *want.Verdict)
	}
}
