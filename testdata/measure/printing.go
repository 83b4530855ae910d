package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strconv"
	"time"

	"handback/records"
	"handback/report"
	"handback/report/fieldsheet"
	"handback/report/page"
	"handback/report/seal"
	"handback/report/workbook"
)

//go:embed same_cells.py
var sameCells []byte

// xlsxwriter runs programs of XlsxWriter: Debian's python3-xlsxwriter belongs to the
// Python of the system.
const xlsxwriter = "/usr/bin/python3"

// printing is what goes out of a job that is folded.
var printing = []row{
	handoverRow("4,800", 4800, 3), handoverRow("100,000", 100_000, 1),
	peakRow("4,800", 4800), peakRow("100,000", 100_000),
	tenfoldRow("page", func(j *report.Job) error {
		d, err := report.NewDocument(j, j.Head().At)
		if err == nil {
			_, err = page.Make(d)
		}
		return err
	}),
	tenfoldRow("bag", func(j *report.Job) error {
		return seal.Pack(nowhere{}, j, []byte("plan"), "handback", "")
	}),
	tenfoldRow("field sheet", func(j *report.Job) error {
		_, err := fieldsheet.Make(j, j.Head().At)
		return err
	}),
}

// nowhere takes the files of a bag.
type nowhere struct{}

func (nowhere) Put(string, []byte) error { return nil }

// entriesFor is how many entries a made job has with so many readings.
func entriesFor(readings int) int { return 1 + readings/points*(points+1) }

// folded is a made job with so many readings, folded. With open its last check has as many
// points and was not begun.
func (b *bench) folded(readings int, open bool) (*report.Job, error) {
	if !open {
		path, jobs, err := b.made(entriesFor(readings))
		if err != nil {
			return nil, err
		}
		p, entries, err := b.read(path, jobs[0])
		if err != nil {
			return nil, err
		}
		return report.Fold(p, entries)
	}
	id := fmt.Sprintf("open%d", readings)
	book, err := records.OpenOrCreate(b.ctx, b.bookOf(id))
	if err != nil {
		return nil, err
	}
	defer book.Close()
	return madeJob(b.ctx, book, id, entriesFor(points), readings)
}

// handover makes document and workbook of a job.
func handover(j *report.Job, path string) error {
	d, err := report.NewDocument(j, j.Head().At)
	if err != nil {
		return err
	}
	f, err := os.Create(filepath.Clean(path))
	if err != nil {
		return err
	}
	defer f.Close()
	return workbook.Write(f, d)
}

// handoverRow holds the workbook of a job against the same cells written by XlsxWriter,
// which tells its processor time itself: without reading them.
func handoverRow(words string, readings, times int) row {
	return row{"handover of " + words + " readings", "XlsxWriter of the same cells", 0.25, func(b *bench) (sides, error) {
		j, err := b.folded(readings, false)
		if err != nil {
			return sides{}, err
		}
		script, ours, theirs := filepath.Join(b.dir, "same_cells.py"), filepath.Join(b.dir, "ours.xlsx"), filepath.Join(b.dir, "theirs.xlsx")
		if err := os.WriteFile(script, sameCells, 0o600); err != nil {
			return sides{}, err
		}
		var took [2][]float64
		for range times {
			runtime.GC()
			began := spent()
			if err := handover(j, ours); err != nil {
				return sides{}, err
			}
			took[0] = append(took[0], float64(spent()-began)/1e6)
			out, err := exec.Command(xlsxwriter, script, ours, theirs).Output()
			if err != nil {
				return sides{}, fmt.Errorf("XlsxWriter (apt-get install python3-xlsxwriter): %w", err)
			}
			ms, err := strconv.ParseFloat(string(bytes.Fields(out)[0]), 64)
			if err != nil {
				return sides{}, err
			}
			took[1] = append(took[1], ms)
		}
		runtime.KeepAlive(j)
		return sides{median(took[0]), median(took[1]), "ms"}, nil
	}}
}

// peakRow is the most that making a handover holds at any time beside the job: what is
// alive at the end of each collection, and a fifth of the time is spent on these. What the
// collector has not taken back yet is left out: how much that is hangs on the job, which is
// larger.
func peakRow(words string, readings int) row {
	return row{"memory that the handover of " + words + " readings holds at most, over the folded job", "80 MB", 1, func(b *bench) (sides, error) {
		j, err := b.folded(readings, false)
		if err != nil {
			return sides{}, err
		}
		before := held()
		over, peak := make(chan bool), make(chan int64)
		go func() {
			most := int64(0)
			for {
				began := time.Now()
				runtime.GC()
				live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
				metrics.Read(live)
				most = max(most, int64(live[0].Value.Uint64()))
				select {
				case <-over:
					peak <- most
					return
				case <-time.After(4 * time.Since(began)):
				}
			}
		}()
		err = handover(j, filepath.Join(b.dir, "ours.xlsx"))
		over <- true
		most := <-peak
		runtime.KeepAlive(j)
		return sides{float64(most-before) / 1e6, 80, "MB"}, err
	}}
}

// tenfoldRow holds what is made of a job of 10,000 readings against ten times that of one
// of 1,000.
func tenfoldRow(what string, make func(*report.Job) error) row {
	return row{what + " of 10,000 readings", "10 × that of 1,000", 1.3, func(b *bench) (sides, error) {
		open := what == "field sheet"
		many, err := b.folded(10_000, open)
		if err != nil {
			return sides{}, err
		}
		few, err := b.folded(1000, open)
		if err != nil {
			return sides{}, err
		}
		return turns(3, spent, func() error { return make(many) }, repeat(10, func() error { return make(few) }))
	}}
}
