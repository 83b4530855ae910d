package seal

import (
	"bytes"
	"errors"
	"fmt"

	"handback/report"
	"handback/report/form"
	"handback/report/grid"
	"handback/report/workbook"
)

// What an earlier output of a job may be written over with a newer one: nothing a
// person did to it may be lost. Each function gives the reason against it.

// IsEarlierWorkbook tells why data is not the handover workbook of an earlier state
// of the job, byte for byte as this program makes it in the job's own form or in the one
// that dress gives: then nobody typed into it.
func IsEarlierWorkbook(data []byte, j *report.Job, dress func(*report.Document) error, earlier ...*report.Job) error {
	c, err := ReadClaim(data)
	switch {
	case err != nil:
		return grid.Foreign{Err: err}
	case c.Job != j.ID:
		return fmt.Errorf("it shows job %.80q", c.Job)
	case c.Entries < 1 || c.Entries > len(j.Entries) || j.Entries[c.Entries-1].Hash != c.Head:
		return fmt.Errorf("it shows no state of job %s", j.ID)
	}
	then, err := j.Upto(c.Entries)
	if err != nil {
		return err
	}
	then.KnownThen(knownForks(data))
	for _, past := range [][]*report.Job{earlier, nil} { // one that was signed has no trend
		d, err := report.NewDocument(then, then.Head().At, past...)
		if err != nil {
			return err
		}
		own := d.Form
		if err := dress(d); err != nil {
			return err
		}
		for _, f := range []form.Form{d.Form, own} {
			d.Form = f
			if made, err := workbook.Make(d); err != nil || bytes.Equal(made, data) {
				return err
			}
		}
	}
	return errors.New("it is not as this program makes it: something may have been filled in")
}
