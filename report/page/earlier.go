package page

import (
	"errors"
	"fmt"
	"strings"

	"handback/report"
	"handback/report/fork"
	"handback/report/form"
)

// IsEarlierText tells why data is not the text of the handover of an earlier state of
// the job, in the job's own form or in the one that dress gives.
func IsEarlierText(data []byte, j *report.Job, dress func(*report.Document) error) error {
	for i := len(j.Entries); i > 0; i-- {
		if !strings.Contains(string(data), j.Entries[i-1].Hash) {
			continue
		}
		then, err := j.Upto(i)
		if err != nil {
			return err
		}
		for _, known := range [][]fork.Fork{j.Forks(), nil} { // nobody can tell from a text what was known of others then
			then.KnownThen(known)
			if same, err := sameText(data, then, dress); err != nil || same {
				return err
			}
		}
		return errors.New("its words are not those that this program makes of the record")
	}
	return fmt.Errorf("it names no entry of job %s", j.ID)
}

// sameText tells whether data is the text of the handover of a job, in either form.
func sameText(data []byte, j *report.Job, dress func(*report.Document) error) (bool, error) {
	d, err := report.NewDocument(j, j.Head().At)
	if err != nil {
		return false, err
	}
	own := d.Form
	if err := dress(d); err != nil {
		return false, err
	}
	for _, f := range []form.Form{d.Form, own} {
		d.Form = f
		if text, err := Text(d); err != nil || text == string(data) {
			return err == nil, err
		}
	}
	return false, nil
}

// IsEarlierPage tells why data is not a page of the handover of the job, by what its head
// names: nobody types into a page.
func IsEarlierPage(data []byte, j *report.Job) error {
	head, _, _ := strings.Cut(string(data[:min(len(data), 4096)]), "</title>")
	_, title, ok := strings.Cut(head, "<title>")
	if !ok || !strings.HasPrefix(head, "<!DOCTYPE html>") || !strings.Contains(head, digestName) || !strings.HasSuffix(title, " "+j.ID) {
		return fmt.Errorf("it is no page of the handover of job %s", j.ID)
	}
	return nil
}

// digestName is how the head of a page names the data it shows.
const digestName = `<meta name="handover-data-sha256" `
