package years

import (
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"

	"handback/checks/quantity"
	"handback/checks/trend"
)

// columns are those of the table.
var columns = []string{"job", "at", "name", "value", "bound", "unit", "ucum", "standard_uncertainty", "expanded_uncertainty", "low", "high", "verdict", "instrument", "in_line", "line", "line_uncertainty"}

// Table writes the values as RFC 4180 has a table, in UTF-8, with a line of names: what a
// spreadsheet draws the picture from. What is no number is left out, never zero.
func Table(w io.Writer, t *trend.Trend) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(columns); err != nil {
		return err
	}
	for i, v := range t.Values {
		on, off, ok := t.Line(v.At)
		if !ok {
			on, off = math.NaN(), math.NaN()
		}
		err := out.Write([]string{v.Job, v.At.UTC().Format("2006-01-02T15:04:05Z"), t.Name, number(v.X), v.Bound, t.Unit, quantity.UCUM(t.Unit), number(v.Standard), number(v.U),
			number(v.Low), number(v.High), v.Verdict.String(), v.Serial, strconv.FormatBool(slices.Contains(t.Used, i)), number(on), number(off)})
		if err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// number is a number as a cell holds it, "" for what is none.
func number(x float64) string {
	if !quantity.Finite(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'G', -1, 64)
}
