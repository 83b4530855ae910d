package calc

import (
	"math"
	"strconv"
	"strings"

	"handback/checks/quantity"
)

// Choice is a decision kept as a tree: tests choose between words. One source gives what
// is decided and the formula that decides it again, so that the two cannot differ. It is
// one of Word, AsShown and If.
type Choice interface {
	decide(at func(name string) Content) string
	// Formula writes the choice without its leading =; ref gives the address of a cell,
	// or a formula that stands for it.
	Formula(ref func(name string) string) string
}

// Decide gives the word chosen over the contents of cells.
func Decide(c Choice, at func(name string) Content) string { return c.decide(at) }

// Content is what a cell holds: a number, NaN when it holds none, or words.
type Content struct {
	Number float64
	Word   string
	Counts map[string]int // of an area of cells: how often it shows each word
}

// Word is an outcome.
type Word string

func (w Word) decide(func(string) Content) string { return string(w) }
func (w Word) Formula(func(string) string) string { return quoted(string(w)) }

// AsShown is the word that a cell shows.
type AsShown string

func (c AsShown) decide(at func(string) Content) string  { return at(string(c)).Word }
func (c AsShown) Formula(ref func(string) string) string { return ref(string(c)) }

// If chooses by a test.
type If struct {
	Test       Test
	Then, Else Choice
}

func (c If) decide(at func(string) Content) string {
	if c.Test.holds(at) {
		return c.Then.decide(at)
	}
	return c.Else.decide(at)
}

func (c If) Formula(ref func(string) string) string {
	return "IF(" + c.Test.Formula(ref) + "," + c.Then.Formula(ref) + "," + c.Else.Formula(ref) + ")"
}

// Test is what a choice hangs on: one of the types below.
type Test interface {
	holds(at func(name string) Content) bool
	Formula(ref func(name string) string) string
}

// All, Any and Not combine tests.
type (
	All []Test
	Any []Test
	Not struct{ Test }
)

func (t All) holds(at func(string) Content) bool {
	for _, each := range t {
		if !each.holds(at) {
			return false
		}
	}
	return true
}
func (t All) Formula(ref func(string) string) string { return "AND(" + listed(t, ref) + ")" }

func (t Any) holds(at func(string) Content) bool {
	for _, each := range t {
		if each.holds(at) {
			return true
		}
	}
	return false
}
func (t Any) Formula(ref func(string) string) string {
	if len(t) == 1 {
		return t[0].Formula(ref)
	}
	return "OR(" + listed(t, ref) + ")"
}

func (t Not) holds(at func(string) Content) bool     { return !t.Test.holds(at) }
func (t Not) Formula(ref func(string) string) string { return "NOT(" + t.Test.Formula(ref) + ")" }

// Numbers holds where each of the cells has a number, Number where one does, and
// SomeNumber where at least one of them does.
type (
	Numbers    []string
	Number     string
	SomeNumber []string
)

func (t Numbers) holds(at func(string) Content) bool { return count(t, at) == len(t) }
func (t Numbers) Formula(ref func(string) string) string {
	return counted(t, ref) + "=" + strconv.Itoa(len(t))
}

func (t Number) holds(at func(string) Content) bool     { return count([]string{string(t)}, at) == 1 }
func (t Number) Formula(ref func(string) string) string { return "ISNUMBER(" + ref(string(t)) + ")" }

func (t SomeNumber) holds(at func(string) Content) bool     { return count(t, at) > 0 }
func (t SomeNumber) Formula(ref func(string) string) string { return counted(t, ref) + ">0" }

// Equals holds where a cell has that number.
type Equals struct {
	Cell   string
	Number float64
}

func (t Equals) holds(at func(string) Content) bool { return at(t.Cell).Number == t.Number }
func (t Equals) Formula(ref func(string) string) string {
	return ref(t.Cell) + "=" + FormulaNumber(t.Number)
}

// Under holds where a cell's number is below one given, or, with At, no more than it.
type Under struct {
	Cell   string
	Number float64
	At     bool
}

func (t Under) holds(at func(string) Content) bool {
	x := at(t.Cell).Number
	return x < t.Number || t.At && x == t.Number
}
func (t Under) Formula(ref func(string) string) string {
	return ref(t.Cell) + map[bool]string{false: "<", true: "<="}[t.At] + FormulaNumber(t.Number)
}

// Whole holds where a cell's number is whole.
type Whole string

func (t Whole) holds(at func(string) Content) bool {
	x := at(string(t)).Number
	return x == math.Trunc(x)
}
func (t Whole) Formula(ref func(string) string) string {
	return ref(string(t)) + "=INT(" + ref(string(t)) + ")"
}

// Typed holds where that word was typed into a cell, and Shows where a cell that a
// formula fills shows it.
type (
	Typed struct{ Cell, Word string }
	Shows struct{ Cell, Word string }
)

func (t Typed) holds(at func(string) Content) bool { return at(t.Cell).Word == t.Word }
func (t Typed) Formula(ref func(string) string) string {
	return ref(t.Cell) + `&""=` + quoted(t.Word)
}

func (t Shows) holds(at func(string) Content) bool { return at(t.Cell).Word == t.Word }
func (t Shows) Formula(ref func(string) string) string {
	return ref(t.Cell) + "=" + quoted(t.Word)
}

// SameWord tells whether two words are the same as a workbook compares them: capitals do
// not count.
func SameWord(a, b string) bool { return strings.EqualFold(a, b) }

// Same holds where two cells show the same word.
type Same struct {
	A, B string
	Not  bool // other words instead
}

func (t Same) holds(at func(string) Content) bool {
	return SameWord(at(t.A).Word, at(t.B).Word) != t.Not
}
func (t Same) Formula(ref func(string) string) string {
	return ref(t.A) + map[bool]string{false: "=", true: "<>"}[t.Not] + ref(t.B)
}

// Count holds where an area shows a word so often, or, when Exactly is below 0, at all.
type Count struct {
	Area, Word string
	Exactly    int
}

func (t Count) holds(at func(string) Content) bool {
	n := at(t.Area).Counts[t.Word]
	return n == t.Exactly || t.Exactly < 0 && n > 0
}

func (t Count) Formula(ref func(string) string) string {
	s := "COUNTIF(" + ref(t.Area) + "," + quoted(t.Word) + ")"
	if t.Exactly < 0 {
		return s + ">0"
	}
	return s + "=" + strconv.Itoa(t.Exactly)
}

// Side is a side of a limit that a value may stand on.
type Side int

const (
	InsideLow  Side = iota // not below the lower limit
	InsideHigh             // not above the upper limit
	BeyondLow              // below the lower limit
	BeyondHigh             // above the upper limit
)

// sides say how a value is compared, and the sign of guard band and slack at the limit:
// a limit includes its own value, and the guard band makes room on both its sides. A
// limit that is not there holds everything inside and nothing beyond.
var sides = [...]struct {
	sign         string
	guard, slack float64
	none         bool
}{
	InsideLow:  {">=", 1, -1, true},
	InsideHigh: {"<=", -1, 1, true},
	BeyondLow:  {"<", -1, -1, false},
	BeyondHigh: {">", 1, 1, false},
}

// slackText is quantity.Slack in a formula.
const slackText = "1E-9"

// Compare holds a value against a limit with its slack; Guard is "" where it is compared
// without its uncertainty.
type Compare struct {
	Side                Side
	Value, Limit, Guard string
}

func (t Compare) holds(at func(string) Content) bool {
	s, x, limit := sides[t.Side], at(t.Value).Number, at(t.Limit).Number
	if math.IsNaN(limit) {
		return s.none
	}
	edge := limit
	if t.Guard != "" {
		edge += s.guard * at(t.Guard).Number
	}
	edge += s.slack * float64(quantity.Slack*math.Abs(limit))
	switch s.sign {
	case ">=":
		return x >= edge
	case "<=":
		return x <= edge
	case "<":
		return x < edge
	}
	return x > edge
}

func (t Compare) Formula(ref func(string) string) string {
	s, limit := sides[t.Side], ref(t.Limit)
	sign := map[float64]string{1: "+", -1: "-"}
	edge := limit
	if t.Guard != "" {
		edge += sign[s.guard] + ref(t.Guard)
	}
	edge += sign[s.slack] + slackText + "*ABS(" + limit + ")"
	return "IF(ISNUMBER(" + limit + ")," + ref(t.Value) + s.sign + edge + "," + strings.ToUpper(strconv.FormatBool(s.none)) + ")"
}

func count(names []string, at func(string) Content) (n int) {
	for _, name := range names {
		if !math.IsNaN(at(name).Number) {
			n++
		}
	}
	return n
}

func counted(names []string, ref func(string) string) string {
	refs := make([]string, len(names))
	for i, name := range names {
		refs[i] = ref(name)
	}
	return "COUNT(" + strings.Join(refs, ",") + ")"
}

func listed(tests []Test, ref func(string) string) string {
	parts := make([]string, len(tests))
	for i, t := range tests {
		parts[i] = t.Formula(ref)
	}
	return strings.Join(parts, ",")
}

func quoted(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
