package workbook

import (
	"bytes"
	"slices"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/testdata/rig"
)

// A value stands beside what it was in earlier jobs and by the plan's baseline; without
// either there is no such sheet.
func TestTrend(t *testing.T) {
	job := func(days int, volts string) *report.Job {
		r := rig.New(t, "pump.yaml")
		r.Take("hv", rig.Typed{"meter": "vt", "value": volts})
		j := r.Job()
		j.ID, j.OpenedAt = "day-"+string(rune('0'+days)), rig.Dawn.AddDate(0, 0, days)
		return j
	}
	rows := func(now *report.Job, earlier ...*report.Job) [][]string {
		d, err := report.NewDocument(now, rig.Dawn.AddDate(1, 0, 0), earlier...)
		if err != nil {
			t.Fatal(err)
		}
		data, err := Make(d)
		if err != nil {
			t.Fatal(err)
		}
		f, err := excelize.OpenReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if i, _ := f.GetSheetIndex("Trend"); i < 0 {
			return nil
		}
		out, err := f.GetRows("Trend", excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	if got := rows(job(9, "11.20")); got != nil {
		t.Errorf("a job without a past has a trend: %q", got)
	}
	got := rows(job(9, "11.20"), job(1, "11.80"), job(2, "11.00"))
	want := []string{"hv", "HV line-to-line volts", "V", "", "", "11800", "11000", "11200", "10500 to 11500 V"}
	if len(got) != 4 || !slices.Equal(got[3], want) || got[2][5] != "day-1\n2026-03-03" || got[2][7] != "day-9\n2026-03-11" {
		t.Errorf("%q, want %q", got, want)
	}
}
