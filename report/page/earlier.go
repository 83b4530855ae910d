package page

import (
	"errors"
	"fmt"
	"strings"

	"handback/report"
)

// IsEarlierText tells why data is not the text of the handover of an earlier state of
// the job.
func IsEarlierText(data []byte, j *report.Job) error {
	for i := len(j.Entries); i > 0; i-- {
		if !strings.Contains(string(data), j.Entries[i-1].Hash) {
			continue
		}
		then, err := j.Upto(i)
		if err != nil {
			return err
		}
		d, err := report.NewDocument(then, then.Head().At)
		if err != nil {
			return err
		}
		text, err := Text(d)
		if err == nil && text != string(data) {
			err = errors.New("its words are not those that this program makes of the record")
		}
		return err
	}
	return fmt.Errorf("it names no entry of job %s", j.ID)
}

// IsEarlierPage tells why data is not a page of the handover of the job, by its
// title: nobody types into a page.
func IsEarlierPage(data []byte, j *report.Job) error {
	head, _, _ := strings.Cut(string(data[:min(len(data), 4096)]), "</title>")
	_, title, ok := strings.Cut(head, "<title>")
	if !ok || !strings.HasPrefix(head, "<!DOCTYPE html>") || !strings.HasSuffix(title, pageTitle(j.ID)) {
		return fmt.Errorf("it is no page of the handover of job %s", j.ID)
	}
	return nil
}

// pageTitle is how the title of a page ends.
func pageTitle(job string) string { return ": handover record of job " + job }
