package legend

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/records/chain"
	"handback/report"
	"handback/templates"
	"handback/testdata/rig"
	"handback/testdata/schemas"
)

// rigs are jobs of many entries, with texts as nasty as anybody may type among them.
func rigs(t *testing.T) map[string]*rig.Rig {
	return map[string]*rig.Rig{"told": rig.Told(t), "nasty": rig.Nasty(t), "opened": rig.New(t, "pump.yaml")}
}

func files(t *testing.T, j *report.Job) map[string][]byte {
	t.Helper()
	out, err := Files(j)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Any editor shows it: UTF-8, no sign that does not show, lines that need no scrolling. The
// same job gives the same bytes.
func TestFiles_plain(t *testing.T) {
	for name, r := range rigs(t) {
		first, again := files(t, r.Job()), files(t, r.Job())
		if len(first) != 6 || !maps.EqualFunc(first, again, bytes.Equal) {
			t.Errorf("%s: %v, or other bytes at the second time", name, slices.Sorted(maps.Keys(first)))
		}
		text := string(first[Reading])
		if text != report.Plain(text) || strings.Contains(text, "\t") || !strings.HasSuffix(text, ".\n") {
			t.Errorf("%s holds signs that do not show, or its end is missing", name)
		}
		for i, line := range strings.Split(text, "\n") {
			if n := utf8.RuneCountInString(line); n > 100 || strings.TrimRight(line, " ") != line {
				t.Errorf("%s, line %d has %d signs, or blanks at its end: %s", name, i+1, n, line)
			}
		}
	}
}

// rows are the rows of the table whose first two columns are called so, parted as the text
// says they can be.
func rows(t *testing.T, text, after, first, second string) [][]string {
	t.Helper()
	_, text, ok := strings.Cut(text, after)
	at := regexp.MustCompile(`\n +` + first + ` {2,}` + second + ` .*\n`).FindStringIndex(text)
	if !ok || at == nil {
		t.Fatalf("no table of %s and %s after %q", first, second, after)
	}
	table, _, _ := strings.Cut(text[at[1]:], "\n\n")
	var out [][]string
	for _, line := range strings.Split(regexp.MustCompile(`\n {5,}`).ReplaceAllString(table, " "), "\n") {
		out = append(out, regexp.MustCompile(` {2,}`).Split(strings.TrimSpace(line), -1))
	}
	return out
}

// The units in the text are those that readings are typed in: every one, with its factor
// and offset to the last bit, and every other way to write it.
func TestFiles_units(t *testing.T) {
	text := string(files(t, rig.New(t, "pump.yaml").Job())[Reading])
	got := rows(t, text, "2. ANSWERS AND UNITS", "unit", "quantity")
	if len(got) != len(quantity.Units) {
		t.Fatalf("%d units, want %d", len(got), len(quantity.Units))
	}
	also := map[string]string{}
	for i, u := range quantity.Units {
		factor, err := strconv.ParseFloat(got[i][3], 64)
		if err != nil {
			t.Fatal(err)
		}
		offset, err := strconv.ParseFloat(got[i][4], 64)
		if err != nil || !slices.Equal(got[i][:3], []string{u.Symbol, u.Of, quantity.BaseUnit(u.Of)}) || factor != u.Factor || offset != u.Offset {
			t.Errorf("%q of %+v, %v", got[i], u, err)
		}
		if len(got[i]) > 5 {
			for _, typed := range strings.Split(got[i][5], ", ") {
				also[typed] = u.Symbol
			}
		}
	}
	want := maps.Clone(quantity.Spellings)
	maps.DeleteFunc(want, func(typed, unit string) bool { return typed == unit })
	if !maps.Equal(also, want) {
		t.Errorf("other ways to write them: %v, want %v", also, want)
	}
	for typed, unit := range want {
		if _, err := quantity.FindUnit(typed, quantity.QuantityOf(unit)); err != nil {
			t.Error(err)
		}
	}
}

// Every kind of entry, every part and every member has its words, and no words are of
// nothing.
func TestLegend_whole(t *testing.T) {
	used := map[string]bool{}
	tell := func(part, member string) {
		t.Helper()
		if _, err := templates.Legend(part, member); err != nil {
			t.Error(err)
		}
		used[part+":"], used[member], used[part+"."+member] = true, true, true
	}
	made := files(t, rig.New(t, "pump.yaml").Job())
	for file, root := range map[string]string{EntrySchema: "", StatementSchema: "Statement", AcceptanceSchema: "Acceptance"} {
		var s shape
		if err := json.Unmarshal(made[file], &s); err != nil {
			t.Fatal(err)
		}
		named := map[string]string{}
		for _, each := range s.AllOf {
			named[afterSlash(each.Then.Properties["data"].Ref)] = each.If.Properties["kind"].Const
		}
		for member := range s.Properties {
			tell(root, member)
		}
		for def, d := range s.Defs {
			name := lastName(def)
			if kind := named[def]; kind != "" {
				if name == "Signed" { // the data of a signature, and what stands in an acceptance
					tell(name, "")
				}
				name = kind
			}
			if len(d.Properties) > 0 {
				tell(name, "")
			}
			for member := range d.Properties {
				tell(name, member)
			}
		}
	}
	data, err := os.ReadFile("../../templates/legend.txt")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		if key, words, ok := strings.Cut(line, " "); ok && key != "#" && (!used[key] || strings.TrimSpace(words) == "") {
			t.Errorf("%s: it is a member of nothing, or has no words", key)
		}
	}
	if len(used) < 150 {
		t.Errorf("%d words were looked up", len(used))
	}
}

// Each kind of check of a job is explained, each field that was answered stands in the
// table of its check with its unit, and each value of a finding with its own.
func TestFiles_checks(t *testing.T) {
	answers, values := 0, 0
	for name, r := range rigs(t) {
		j := r.Job()
		text := string(files(t, j)[Reading])
		for _, c := range j.Plan.Checks() {
			b, err := templates.Kind(c.Kind.Name)
			if err != nil {
				t.Fatal(err)
			}
			flat := report.OneLine(text)
			for _, want := range append([]string{"KIND " + c.Kind.Name + ": ", "CHECK " + c.ID + ": ", report.OneLine(b.Shows), report.OneLine(b.How)}, c.Kind.Sources...) {
				if !strings.Contains(flat, report.OneLine(want)) {
					t.Errorf("%s, %s: %q is not told", name, c.ID, want)
				}
			}
		}
		for _, e := range j.Entries {
			of := func(first, second string) map[string][]string {
				out := map[string][]string{}
				for _, row := range rows(t, text, "  CHECK "+e.Check+": ", first, second) {
					out[row[0]] = row
				}
				return out
			}
			if e.Kind == report.EntryRead {
				read, err := report.Decode[report.Read](e)
				if err != nil {
					t.Fatal(err)
				}
				for key, a := range read.Answers {
					answers++
					row := of("field", "sort")[key]
					if len(row) != 4 || a.Unit != "" && quantity.BaseUnit(quantity.QuantityOf(row[2])) != a.Unit || a.Unit == "" && row[1] == "measured" {
						t.Errorf("%s, entry %d: %s %+v is asked as %q", name, e.Seq, key, a, row)
					}
				}
			}
			if e.Kind == report.EntryJudge {
				judged, err := report.Decode[report.Judged](e)
				if err != nil {
					t.Fatal(err)
				}
				for key := range judged.Values {
					values++
					if row := of("value", "unit")[key]; len(row) != 6 {
						t.Errorf("%s, entry %d: value %s is told as %q", name, e.Seq, key, row)
					}
				}
			}
		}
	}
	if answers < 20 || values < 20 {
		t.Errorf("%d answers and %d values were looked for", answers, values)
	}
}

// The order of verdicts is that of the package that judges: a void proof outweighs a
// failure, a failure a gap, a gap a doubt. The formulas are those that decide.
func TestFiles_rule(t *testing.T) {
	text := strings.Join(strings.Fields(string(files(t, rig.Told(t).Job())[Reading])), "")
	for _, want := range []string{"void,fail,missing,inconclusive,pass", checks.Comparison(true, "").Formula(func(cell string) string { return cell }),
		"ready-with-concessions", report.RuleWords("guarded")} {
		if !strings.Contains(text, strings.Join(strings.Fields(want), "")) {
			t.Errorf("%q is not told", want)
		}
	}
	simple := rig.Of(t, "pump.yaml", append(rig.PlanText(t, "pump.yaml"), "rule: simple\n"...)).Job()
	text = string(files(t, simple)[Reading])
	if !strings.Contains(text, "\n    simple:\n") || strings.Contains(text, "\n    guarded:\n") {
		t.Errorf("the plan judges simply, and is told to judge\n%s", text)
	}
}

// The uncertainty is worked out as the text says: done here anew by its two lines.
func TestFiles_uncertainty(t *testing.T) {
	text := report.OneLine(string(files(t, rig.New(t, "pump.yaml").Job())[Reading]))
	for _, line := range []string{"u² = sum of h²/3, h = G + max(O, root of the sum of o²) + root of the sum of s²", "U = the lesser of 2u and the sum of G + max(O, sum of o) + sum of s;"} {
		if !strings.Contains(text, line) {
			t.Fatalf("the text does not say %q", line)
		}
	}
	random := rand.New(rand.NewPCG(7, 11))
	few, many := 0, 0
	for range 500 {
		var b calc.Budget
		squares, most := 0.0, 0.0
		for range 1 + random.IntN(4) {
			var g calc.ErrorGroup
			sum, square := map[calc.ErrorSort]float64{}, map[calc.ErrorSort]float64{}
			for range 1 + random.IntN(6) {
				c := calc.Contribution{Sort: calc.ErrorSort(random.IntN(5)), Change: random.ExpFloat64()}
				if c.Sort == calc.DatumError {
					c.Sort = calc.DigitError // it counts as s
				}
				sum[c.Sort] += c.Change
				square[c.Sort] += c.Change * c.Change
				g.Contributions = append(g.Contributions, c)
			}
			h := sum[calc.GainError] + math.Max(sum[calc.RangeError], math.Sqrt(square[calc.BendError])) + math.Sqrt(square[calc.DigitError])
			squares += h * h / 3
			most += sum[calc.GainError] + math.Max(sum[calc.RangeError], sum[calc.BendError]) + sum[calc.DigitError]
			b.Groups = append(b.Groups, g)
		}
		want := math.Min(2*math.Sqrt(squares), most)
		if got := b.Spread(1).U; math.Abs(got-want) > 1e-12*want {
			t.Fatalf("%+v: U is %g, by the text %g", b, got, want)
		}
		if want == most {
			few++
		} else {
			many++
		}
	}
	if few < 20 || many < 20 {
		t.Errorf("the sum decided %d times, 2u %d times", few, many)
	}
}

// The schemas let every entry, the handover data and the plan of their own job through, and
// nothing with a member more.
func TestFiles_schemas(t *testing.T) {
	for name, r := range rigs(t) {
		j := r.Job()
		made := files(t, j)
		for _, e := range j.Entries {
			if err := schemas.Fits(made[EntrySchema], e.Body); err != nil {
				t.Errorf("%s, entry %d: %v", name, e.Seq, err)
			}
			if more := bytes.Replace(e.Body, []byte(`{"at":`), []byte(`{"another":1,"at":`), 1); schemas.Fits(made[EntrySchema], more) == nil {
				t.Errorf("%s, entry %d: a member more fits", name, e.Seq)
			}
		}
		data, err := j.HandoverData(r.Now.Add(time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		var doc yaml.Node
		if err := yaml.Unmarshal([]byte(j.Plan.Text()), &doc); err != nil {
			t.Fatal(err)
		}
		plan, err := json.Marshal(asJSON(&doc))
		if err != nil {
			t.Fatal(err)
		}
		for file, whole := range map[string][]byte{HandoverSchema: data, PlanSchema: plan} {
			if err := schemas.Fits(made[file], whole); err != nil {
				t.Errorf("%s, %s: %v", name, file, err)
			}
			if schemas.Fits(made[file], append([]byte(`{"another":1,`), whole[1:]...)) == nil {
				t.Errorf("%s, %s: a member more fits", name, file)
			}
		}
	}
}

// asJSON is what a reader of YAML 1.2 makes of a node.
func asJSON(n *yaml.Node) any {
	switch n.Kind {
	case yaml.DocumentNode:
		return asJSON(n.Content[0])
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			out[n.Content[i].Value] = asJSON(n.Content[i+1])
		}
		return out
	case yaml.SequenceNode:
		out := []any{}
		for _, item := range n.Content {
			out = append(out, asJSON(item))
		}
		return out
	}
	var v any
	if n.Decode(&v) != nil || reflect.TypeOf(v) == reflect.TypeFor[time.Time]() {
		return n.Value
	}
	return v
}

// The hashes of entries are made as the text says.
func TestFiles_chain(t *testing.T) {
	j := rig.Told(t).Job()
	quoted := regexp.MustCompile(`SHA-256 of "(handback [a-z]+ v1)\\n"`).FindAllStringSubmatch(string(files(t, j)[Reading]), -1)
	if len(quoted) != 2 {
		t.Fatalf("%q", quoted)
	}
	prev := chain.HashFile(fmt.Appendf(nil, "%s\n%s\n%s", quoted[1][1], j.ID, j.Opened.Nonce))
	for _, e := range j.Entries {
		if e.Prev != prev {
			t.Errorf("entry %d names %s, by the text it is %s", e.Seq, e.Prev, prev)
		}
		if prev = chain.HashFile(fmt.Appendf(nil, "%s\n%s", quoted[0][1], e.Body)); prev != e.Hash {
			t.Errorf("entry %d hashes to %s, by the text to %s", e.Seq, e.Hash, prev)
		}
	}
}
