package archives

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"
	"math/rand/v2"
	"reflect"
	"time"

	"handback/records/archive"
)

// Job is a made-up job of an owner: rows of a real one, copied.
type Job struct {
	Rows   *archive.Rows
	Hashes []string
}

// Owner gives so many jobs of an invented owner over twenty years: rows of real jobs taken
// in turn, each with an identifier, a site, plates, instruments and a day of its own, and
// with every value drawn anew around the real one and held against its limit again. The
// same number gives the same jobs. Nothing stands behind them but rows: they show how an
// archive bears a number of jobs, not how bags are verified.
func Owner(real []*archive.Rows, jobs int) iter.Seq[Job] {
	return func(yield func(Job) bool) {
		for i := range jobs {
			if !yield(copied(real[i%len(real)], i, jobs)) {
				return
			}
		}
	}
}

const (
	ownersSites       = 500
	ownersInstruments = 60
)

func copied(from *archive.Rows, i, jobs int) Job {
	r := rand.New(rand.NewPCG(uint64(i), 1))
	entries := from.States[0].Entries
	out := Job{Rows: &archive.Rows{}}
	for n := range entries {
		sum := sha256.Sum256(fmt.Appendf(nil, "owner %d %d", i, n))
		out.Hashes = append(out.Hashes, hex.EncodeToString(sum[:]))
	}
	of := archive.Of{Job: out.Hashes[0], Head: out.Hashes[entries-1]}
	site := fmt.Sprintf("station %03d", i%ownersSites)
	shift := time.Duration(i) * (20 * 365 * 24 * time.Hour / time.Duration(jobs))
	moments := map[string]string{} // there are few, and parsing them is slow
	renamed := func(column, text string) string {
		switch {
		case text == "":
			return ""
		case column == "site":
			return site + ", " + text
		case column == "asset":
			return fmt.Sprintf("%s-%03d", text, i%ownersSites)
		}
		return text
	}
	for _, t := range archive.Tables {
		rows := t.Of(from)
		if rows.Len() == 0 {
			continue
		}
		list := reflect.MakeSlice(rows.Type(), rows.Len(), rows.Len())
		reflect.Copy(list, rows)
		for n := range list.Len() {
			row := list.Index(n)
			row.FieldByName("Of").Set(reflect.ValueOf(of))
			for _, c := range t.Columns {
				if c.Sort != archive.Instant && c.Sort != archive.Words {
					continue
				}
				v := c.Of(row)
				if c.Sort == archive.Words {
					v.SetString(renamed(c.Name, v.String()))
				} else if was := v.String(); was != "" {
					if moments[was] == "" {
						at, err := time.Parse(time.RFC3339, was)
						if err != nil {
							panic(err)
						}
						moments[was] = archive.Moment(at.AddDate(-20, 0, 0).Add(shift))
					}
					v.SetString(moments[was])
				}
			}
		}
		t.Of(out.Rows).Set(list)
	}
	draw(out.Rows, r, i)
	return out
}

// draw gives plates, instruments and values of the job's own.
func draw(rows *archive.Rows, r *rand.Rand, i int) {
	for n := range rows.Plants {
		if p := &rows.Plants[n]; p.Serial != "" {
			p.Serial = fmt.Sprintf("%s-%03d", p.Serial, i%ownersSites)
		}
	}
	own := func(serial string) string {
		if serial == "" {
			return ""
		}
		return fmt.Sprintf("%s-%02d", serial, i%ownersInstruments)
	}
	for n := range rows.Instruments {
		m := &rows.Instruments[n]
		m.Serial, m.Plain = own(m.Serial), own(m.Plain)
	}
	near := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		return new(*x * (1 + 0.002*r.NormFloat64()))
	}
	for n := range rows.Readings {
		x := &rows.Readings[n]
		x.Serial, x.Value = own(x.Serial), near(x.Value)
	}
	for n := range rows.Results {
		x := &rows.Results[n]
		x.Serial = own(x.Serial)
		if x.Value = near(x.Value); x.Value == nil || x.Low == nil && x.High == nil {
			continue
		}
		x.Verdict = "pass"
		if x.Low != nil && *x.Value < *x.Low || x.High != nil && *x.Value > *x.High {
			x.Verdict = "fail"
		}
	}
	for n := range rows.Texts {
		if x := &rows.Texts[n]; x.Source == archive.FromSite {
			x.Said = rows.States[0].Site
			x.Plain = archive.Plainly(x.Said)
		}
	}
	rows.Searched[0].Site = archive.Plainly(rows.States[0].Site)
}
