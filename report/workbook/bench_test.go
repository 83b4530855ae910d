package workbook

import (
	"fmt"
	"testing"
	"time"

	"handback/report"
	"handback/testdata/rig"
)

// large is a document of at least so many readings: the checks of a story again and again,
// each under an id of its own.
func large(t testing.TB, readings int) *report.Document {
	t.Helper()
	told := rig.Told(t)
	d := told.Document(told.Now.Add(time.Hour))
	for i := range d.Groups {
		g := &d.Groups[i]
		pages := g.Checks
		for n := 1; readings > 0; n++ {
			had := readings
			for _, p := range pages {
				p.ID = fmt.Sprintf("%s-%d", p.ID, n)
				g.Checks = append(g.Checks, p)
				for _, a := range p.Attempts {
					readings -= len(a.Readings)
				}
			}
			if readings == had {
				break // a group without readings
			}
		}
	}
	return d
}

// BenchmarkMake makes the handover of 4,800 readings.
func BenchmarkMake(b *testing.B) {
	d := large(b, 4800)
	b.ReportAllocs()
	for b.Loop() {
		data, err := Make(d)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(data)), "bytes")
	}
}
