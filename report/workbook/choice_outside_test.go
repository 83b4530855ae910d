package workbook

import (
	"math"
	"strconv"
	"testing"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"handback/checks"
	"handback/checks/calc"
	"handback/testdata/outside"
	"handback/testdata/recalc"
)

// drawnChoice is a choice with what its cells hold; those of Verdicts are an area.
type drawnChoice struct {
	Choice   calc.Choice
	Numbers  map[string]float64
	Words    map[string]string
	Verdicts []string
}

func (d drawnChoice) at(cell string) calc.Content {
	c := calc.Content{Number: math.NaN(), Word: d.Words[cell], Counts: map[string]int{}}
	if x, ok := d.Numbers[cell]; ok {
		c.Number = x
	}
	for _, v := range d.Verdicts {
		c.Counts[v]++
	}
	return c
}

var (
	numberCells = []string{checks.CellValue, checks.CellU, checks.CellLow, checks.CellHigh, checks.CellChanged}
	wordCells   = []string{checks.CellVerdict, "second"}
	// At a limit, within its slack, beyond it, and where guard bands meet it.
	numbersNear = []float64{-11, -10, -1, 0, 1, 9, 10, 10 * (1 + 5e-10), 10 * (1 - 5e-10), 10 * (1 + 2e-9), 10 * (1 - 2e-9), 11, 12, 1e9}
)

// drawChoice draws the choices that are made, and trees of every sort of node. A cell that
// may hold no number is asked for that first, as everywhere: a spreadsheet takes it for 0.
var drawChoice = rapid.Custom(func(t *rapid.T) drawnChoice {
	d := drawnChoice{Numbers: map[string]float64{}, Words: map[string]string{}}
	words := rapid.SampledFrom([]string{"PASS", "FAIL", "INCONCLUSIVE", "MISSING", "VOID"})
	number := rapid.SampledFrom(numbersNear)
	for _, c := range numberCells {
		if rapid.IntRange(0, 4).Draw(t, "there") > 0 {
			d.Numbers[c] = number.Draw(t, c)
		}
	}
	d.Numbers[checks.CellChanged] = float64(rapid.IntRange(0, 1).Draw(t, "changed"))
	if u, ok := d.Numbers[checks.CellU]; ok {
		d.Numbers[checks.CellU] = math.Abs(u)
	}
	for _, c := range wordCells {
		d.Words[c] = words.Draw(t, c)
	}
	d.Verdicts = rapid.SliceOfN(words, 3, 3).Draw(t, "verdicts")
	if rapid.Bool().Draw(t, "all pass") {
		d.Verdicts = []string{"PASS", "PASS", "PASS"}
	}
	switch rapid.IntRange(0, 4).Draw(t, "sort") {
	case 0, 1:
		d.Choice = checks.Comparison(rapid.Bool().Draw(t, "guarded"), rapid.SampledFrom([]string{"", "", ">", "<"}).Draw(t, "bound"))
	case 2:
		d.Choice = checks.WorstOf(len(d.Verdicts))
	case 3:
		d.Choice = checks.WithoutFailure()
	default:
		d.Choice = drawTree(t, 3)
	}
	return d
})

func drawTree(t *rapid.T, depth int) calc.Choice {
	sort := rapid.IntRange(0, 5).Draw(t, "choice")
	switch {
	case sort == 0 || depth == 0:
		return calc.Word(rapid.SampledFrom([]string{"one", `"two"`, ""}).Draw(t, "word"))
	case sort == 1:
		return calc.AsShown(rapid.SampledFrom(wordCells).Draw(t, "cell"))
	}
	return calc.If{Test: drawTest(t, depth), Then: drawTree(t, depth-1), Else: drawTree(t, depth-1)}
}

func drawTest(t *rapid.T, depth int) calc.Test {
	cell, word := rapid.SampledFrom(numberCells), rapid.SampledFrom(wordCells)
	is := rapid.SampledFrom([]string{"PASS", "FAIL", "VOID"})
	several := func() (out []calc.Test) {
		for range rapid.IntRange(1, 3).Draw(t, "tests") {
			out = append(out, drawTest(t, depth-1))
		}
		return out
	}
	sort := rapid.IntRange(0, 10).Draw(t, "test")
	if depth == 0 {
		sort %= 8
	}
	switch sort {
	case 0:
		return calc.Numbers(rapid.SliceOfNDistinct(cell, 1, 3, rapid.ID[string]).Draw(t, "cells"))
	case 1:
		return calc.SomeNumber(rapid.SliceOfNDistinct(cell, 1, 3, rapid.ID[string]).Draw(t, "cells"))
	case 2:
		return calc.Number(cell.Draw(t, "cell"))
	case 3:
		c := cell.Draw(t, "cell")
		return calc.All{calc.Numbers{c}, calc.Equals{Cell: c, Number: rapid.SampledFrom(numbersNear).Draw(t, "number")}}
	case 4:
		return calc.Typed{Cell: word.Draw(t, "cell"), Word: is.Draw(t, "word")}
	case 5:
		return calc.Same{A: wordCells[0], B: wordCells[1], Not: rapid.Bool().Draw(t, "not")}
	case 6:
		return calc.Count{Area: checks.CellVerdicts, Word: is.Draw(t, "word"), Exactly: rapid.IntRange(-1, 3).Draw(t, "n")}
	case 7:
		c := calc.Compare{Side: calc.Side(rapid.IntRange(0, 3).Draw(t, "side")), Value: checks.CellValue, Limit: checks.CellHigh}
		if rapid.Bool().Draw(t, "guarded") {
			c.Guard = checks.CellU
		}
		return calc.All{calc.Numbers{checks.CellValue, checks.CellU}, c}
	case 8:
		return calc.Not{Test: drawTest(t, depth-1)}
	case 9:
		return calc.All(several())
	}
	return calc.Any(several())
}

// LibreOffice chooses by the formula of a choice what the choice decides.
func TestOutside_LibreOffice_chooses_the_same(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	f := excelize.NewFile()
	defer f.Close()
	set := func(cell string, v any) string {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
		return cell
	}
	want := map[string]string{}
	drawn := map[string]drawnChoice{}
	for row := 1; row <= 600; row++ {
		d, n := drawChoice.Example(row), strconv.Itoa(row)
		ref := map[string]string{checks.CellVerdicts: "I" + n + ":K" + n}
		for i, c := range numberCells {
			ref[c] = string(rune('B'+i)) + n
			if x, ok := d.Numbers[c]; ok {
				set(ref[c], x)
			}
		}
		for i, c := range wordCells {
			ref[c] = set(string(rune('G'+i))+n, d.Words[c])
		}
		for i, v := range d.Verdicts {
			set(string(rune('I'+i))+n, v)
		}
		if err := f.SetCellFormula("Sheet1", "A"+n, d.Choice.Formula(func(c string) string { return ref[c] })); err != nil {
			t.Fatal(err)
		}
		want["A"+n], drawn["A"+n] = calc.Decide(d.Choice, d.at), d
	}
	data, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	anew, err := recalc.Run(t.TempDir(), map[string][]byte{"choices": data.Bytes()})
	if err != nil {
		t.Fatal(err)
	}
	sheets, err := recalc.Read(anew["choices"])
	if err != nil {
		t.Fatal(err)
	}
	came := map[string]int{}
	for cell, w := range want {
		came[w]++
		if got := sheets["Sheet1"][cell]; got.Type != "str" || got.Value != w {
			t.Errorf("%s shows %q, want %q: %s over %+v", cell, got.Value, w, got.Formula, drawn[cell])
		}
	}
	for _, w := range []string{"PASS", "FAIL", "INCONCLUSIVE", "MISSING", "VOID", "one", `"two"`} {
		if came[w] < 5 {
			t.Errorf("%d of %d choices come to %s: too few to tell", came[w], len(want), w)
		}
	}
}
