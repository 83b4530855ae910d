package years_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/trend"
	"handback/report/years"
)

var nan = math.NaN()

// resistance is a joint in µΩ that was measured every other year; 40 µΩ is its limit.
func resistance(values ...float64) trend.Trend {
	s := trend.Series{Name: "joint 1", Unit: "µΩ"}
	for i, x := range values {
		v := trend.Value{At: time.Date(2020+2*i, 5, 1, 9, 0, 0, 0, time.UTC), X: x, Standard: 0.5, U: 1, Low: nan, High: 40, Verdict: checks.Pass, Job: "section-b-" + string(rune('1'+i)), Serial: "MO-12"}
		if x > 40 {
			v.Verdict = checks.Fail
		}
		s.Values = append(s.Values, v)
	}
	return trend.Of(s, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
}

// A value stands in the row and column that its number and day have: by hand, the frame of
// 20 to 40 µΩ with marks of 5 goes from 15 to 45, twelve rows down; of the days from the first
// of 2020 to that of 2031, sixty columns.
func TestPlot(t *testing.T) {
	got := resistance(20, 24, 28, 32)
	lines := strings.Split(years.Plot(&got), "\n")
	if len(lines) != 12+2+1 {
		t.Fatalf("%d lines:\n%s", len(lines), strings.Join(lines, "\n"))
	}
	row := func(x float64) int { return int(math.Round((1 - (x-15)/30) * 11)) }
	column := func(day string) int {
		at, _ := time.Parse("2006-01-02 15:04", day+" 09:00")
		from, to := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
		return len("45 | ") + int(math.Round(at.Sub(from).Hours()/to.Sub(from).Hours()*59))
	}
	for day, x := range map[string]float64{"2020-05-01": 20, "2022-05-01": 24, "2024-05-01": 28, "2026-05-01": 32} {
		if line := lines[row(x)]; column(day) >= len(line) || line[column(day)] != 'o' {
			t.Errorf("%s, %v µΩ: no o at column %d of %q", day, x, column(day), line)
		}
	}
	if line := lines[row(40)]; !strings.Contains(line, "--------") || strings.Count(strings.Join(lines[:12], ""), "----") != strings.Count(line, "----") {
		t.Errorf("the limit is not where it is:\n%s", strings.Join(lines, "\n"))
	}
	if !strings.Contains(lines[13], "2020") || !strings.Contains(lines[13], "2030") {
		t.Errorf("years: %q", lines[13])
	}
	for _, r := range strings.Join(lines, "") {
		if r > '~' {
			t.Errorf("%q is no sign of ASCII", r)
		}
	}
}

// Each sort of value has a sign of its own, and all are told.
func TestPlot_signs(t *testing.T) {
	got := resistance(20, 24, 28, 32, 36, 41, 44)
	for i, change := range []func(v *trend.Value){
		func(v *trend.Value) {}, func(v *trend.Value) { v.Verdict = checks.Inconclusive }, func(v *trend.Value) { v.Bound = ">" },
		func(v *trend.Value) { v.Verdict = checks.Void }, func(v *trend.Value) { v.Lapsed = true }, func(v *trend.Value) {}, func(v *trend.Value) { v.Bound = "<" },
	} {
		change(&got.Values[i])
	}
	plot := years.Plot(&got)
	for _, sign := range "o?>#~x<" {
		if !strings.ContainsRune(plot, sign) || !strings.ContainsRune(years.Signs, sign) {
			t.Errorf("%q is not drawn, or not told:\n%s", sign, plot)
		}
	}
	none := trend.Of(trend.Series{Values: []trend.Value{{X: nan}}}, time.Time{})
	if is := years.Plot(&none); is != "" {
		t.Errorf("nothing to draw gives\n%s", is)
	}
	for _, values := range [][]float64{{0}, {0, 0, 0}, {-5, -5}, {1e9, 1e9 + 1}} {
		got := resistance(values...)
		if is := years.Plot(&got); !strings.Contains(is, "o") && !strings.Contains(is, "x") {
			t.Errorf("%v gives\n%s", values, is)
		}
	}
}

func TestTable(t *testing.T) {
	var out bytes.Buffer
	got := resistance(20, 24, 28)
	got.Values[2].Standard = nan
	if err := years.Table(&out, &got); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	cell := func(row int, name string) string {
		for i, is := range rows[0] {
			if is == name {
				return rows[row][i]
			}
		}
		t.Fatalf("no column %s", name)
		return ""
	}
	for name, want := range map[string]string{"job": "section-b-2", "at": "2022-05-01T09:00:00Z", "value": "24", "unit": "µΩ", "ucum": "uOhm", "standard_uncertainty": "0.5", "low": "", "high": "40",
		"verdict": "pass", "instrument": "MO-12", "in_line": "true", "bound": ""} {
		if is := cell(2, name); is != want {
			t.Errorf("%s: %q, want %q", name, is, want)
		}
	}
	if is := cell(3, "standard_uncertainty"); is != "" {
		t.Errorf("what is not known is %q", is)
	}
}
