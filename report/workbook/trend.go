package workbook

import (
	"slices"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
)

// trendRow is a value over the jobs.
type trendRow struct {
	check, name, unit string
	limit             *checks.Limit
	was               *checks.Since // by the plan's baseline, nil for none
	values            map[string]float64
	verdicts          map[string]checks.Verdict
}

// Columns of the trend that stand before and after those of the jobs.
const (
	colTrendWas = 4
	colTrendJob = 6
)

// trend lays out how judged values came out in earlier jobs on the same plant, and what
// they were by the plan's baseline; nil where there is neither. Values are those of the
// record: an edit elsewhere changes none of them.
func (b *book) trend() *grid.Sheet {
	rows, jobs := trendRows(b.doc)
	if len(rows) == 0 {
		return nil
	}
	s := b.Sheet("Trend")
	widths := []float64{14, 34, 7, 11, 22}
	columns := []grid.Box{grid.At(1, "check", grid.Look{}), grid.At(2, "value", grid.Look{}), grid.At(3, "unit", grid.Look{}), grid.At(colTrendWas, "before", grid.Look{}), grid.At(colTrendWas+1, "by", grid.Look{})}
	for i, j := range jobs {
		widths = append(widths, 13)
		columns = append(columns, grid.At(colTrendJob+i, j.Job+"\n"+j.Day, grid.Look{}))
	}
	last := colTrendJob + len(jobs)
	b.annex(s, "Trend: values of earlier jobs and of the plan's baseline", append(widths, 22)...)
	s.Repeat = 2
	s.Columns(append(columns, grid.At(last, "limit of this job", grid.Look{}))...)
	for _, r := range rows {
		s.Add(r.boxes(jobs, last)...)
	}
	return s
}

func (r trendRow) boxes(jobs []report.TrendJob, last int) []grid.Box {
	was, by := grid.At(colTrendWas, nil, grid.FaceCell), grid.At(colTrendWas+1, nil, grid.FaceCell)
	if b := r.was; b != nil {
		was = grid.Number(colTrendWas, b.Was, grid.EnoughDecimals(b.Was), "")
		by = grid.At(colTrendWas+1, b.Source+", "+b.Date.Format("2006-01-02"), grid.FaceCell)
	}
	out := []grid.Box{grid.At(1, r.check, grid.FaceCell), grid.At(2, r.name, grid.FaceCell), grid.At(3, r.unit, grid.FaceCell), was, by}
	for i, j := range jobs {
		x, ok := r.values[j.Job]
		box := grid.At(colTrendJob+i, "not taken", grid.FaceCell)
		if ok {
			box = grid.Number(colTrendJob+i, x, grid.EnoughDecimals(x), "")
		}
		if v := r.verdicts[j.Job]; ok && v != checks.Pass && v != checks.Missing {
			box.Look.Bold = true
			box.Look.Fill = grid.VerdictLook(v).Fill
		}
		out = append(out, box)
	}
	limit := ""
	if r.limit != nil {
		limit = r.limit.Bare(r.unit)
	}
	return append(out, grid.At(last, limit, grid.FaceCell))
}

// trendRows are the values that have a past, in the order of the checks, and the jobs
// they were taken in, oldest first; this one is the last.
func trendRows(d *report.Document) (rows []trendRow, jobs []report.TrendJob) {
	for _, p := range d.Pages() {
		a := p.Newest()
		if a == nil {
			continue
		}
		before := map[string]*checks.Since{}
		for _, x := range a.Derived {
			if x.Since != nil {
				before[x.Since.Key] = x.Since
			}
		}
		for _, x := range a.Derived {
			r := trendRow{p.ID, x.Name, x.Unit, x.Limit, before[x.Key], map[string]float64{d.Job: x.Value}, map[string]checks.Verdict{d.Job: x.Verdict}}
			known := r.take(p.Trend, x.Key)
			if known || r.was != nil {
				rows = append(rows, r)
			}
			if known {
				jobs = append(jobs, p.Trend.Jobs...)
			}
		}
	}
	slices.SortStableFunc(jobs, func(x, y report.TrendJob) int {
		return slices.Compare([]string{x.Day, x.Job}, []string{y.Day, y.Job})
	})
	this := func(j report.TrendJob) bool { return j.Job == d.Job }
	last := report.TrendJob{Job: d.Job, Day: d.Opened[:min(len(d.Opened), len("2006-01-02"))]}
	if i := slices.IndexFunc(jobs, this); i >= 0 {
		last = jobs[i]
	}
	return rows, append(slices.DeleteFunc(slices.Compact(jobs), this), last)
}

// take takes up what earlier jobs had; it tells whether any did.
func (r *trendRow) take(t *report.Trend, key string) bool {
	if t == nil {
		return false
	}
	i := slices.IndexFunc(t.Lines, func(l report.TrendLine) bool { return l.Key == key })
	if i < 0 {
		return false
	}
	for n, x := range t.Lines[i].Values {
		if report.Finite(x) {
			r.values[t.Jobs[n].Job], r.verdicts[t.Jobs[n].Job] = x, t.Lines[i].Verdicts[n]
		}
	}
	return true
}
