package report

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
)

// What an earlier output of a job may be written over with a newer one: nothing a
// person did to it may be lost. Each function gives the reason against it.

// IsEarlierWorkbook tells why data is not the handover workbook of an earlier state
// of the job, byte for byte as this program makes it: then nobody typed into it.
func IsEarlierWorkbook(data []byte, j *Job) error {
	c, err := ReadClaim(data)
	switch {
	case err != nil:
		return Foreign{err}
	case c.Job != j.ID:
		return fmt.Errorf("it shows job %.80q", c.Job)
	case c.Entries < 1 || c.Entries > len(j.Entries) || j.Entries[c.Entries-1].Hash != c.Head:
		return fmt.Errorf("it shows no state of job %s", j.ID)
	}
	then, err := Fold(j.Plan, j.Entries[:c.Entries])
	if err != nil {
		return err
	}
	then.Files = j.Files
	d, err := NewDocument(then, then.Head().At)
	if err != nil {
		return err
	}
	made, err := Workbook(d)
	if err == nil && !bytes.Equal(made, data) {
		err = errors.New("it is not as this program makes it: something may have been filled in")
	}
	return err
}

// IsEarlierText tells why data is not the text of the handover of an earlier state of
// the job.
func IsEarlierText(data []byte, j *Job) error {
	for i := len(j.Entries); i > 0; i-- {
		if !strings.Contains(string(data), j.Entries[i-1].Hash) {
			continue
		}
		then, err := Fold(j.Plan, j.Entries[:i])
		if err != nil {
			return err
		}
		d, err := NewDocument(then, then.Head().At)
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
func IsEarlierPage(data []byte, j *Job) error {
	head, _, _ := strings.Cut(string(data[:min(len(data), 4096)]), "</title>")
	_, title, ok := strings.Cut(head, "<title>")
	if !ok || !strings.HasPrefix(head, "<!DOCTYPE html>") || !strings.HasSuffix(title, pageTitle(j.ID)) {
		return fmt.Errorf("it is no page of the handover of job %s", j.ID)
	}
	return nil
}

// pageTitle is how the title of a page ends.
func pageTitle(job string) string { return ": handover record of job " + job }

// IsBlankSheet tells why data is not a field sheet of the job in which nothing is
// filled in.
func IsBlankSheet(data []byte, j *Job) error {
	p, err := openParts(data)
	if err != nil {
		return Foreign{err}
	}
	book, err := readBook(p)
	if err != nil {
		return Foreign{err}
	}
	m, err := readMark(book.cells)
	if err != nil {
		return Foreign{fmt.Errorf("it is no field sheet: %w", err)}
	}
	if m.job != j.ID {
		return fmt.Errorf("it is a field sheet of job %q", m.job)
	}
	filled, errs := m.filled(book, true)
	if n := len(filled) + len(errs); n > 0 {
		return fmt.Errorf("%s filled in; take them back with read", Count(n, "cell is", "cells are"))
	}
	if moved := m.moved(book); len(moved) > 0 {
		return fmt.Errorf("%s: %s", moved[0].Place, moved[0].Cause)
	}
	return nil
}
