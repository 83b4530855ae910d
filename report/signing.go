package report

import (
	"handback/checks"
	"handback/records"
)

// Signable are the documents that show the state a person signs: they are signed with
// the statement, by their SHA-256, and kept as they were.
type Signable struct{ Workbook, Page []byte }

// NewSignable makes the documents of a job as it stands at its last entry: the very
// bytes that a handover of it has. j.Files must be at hand when there are attachments.
func NewSignable(j *Job) (Signable, error) {
	d, err := NewDocument(j, j.Head().At)
	if err != nil {
		return Signable{}, err
	}
	book, err := Workbook(d)
	if err != nil {
		return Signable{}, err
	}
	page, err := Page(d)
	return Signable{book, page}, err
}

// NamedIn is a statement that names the documents.
func (s Signable) NamedIn(st records.Statement) records.Statement {
	st.Workbook, st.Page = records.HashFile(s.Workbook), records.HashFile(s.Page)
	return st
}

// Drafts are the entries that keep the documents. They go right before the signature,
// with which they are stored as one.
func (s Signable) Drafts(person *checks.Person) []records.Draft {
	draft := func(what, name string, content []byte) records.Draft {
		a := records.NewAttached(name, content, what+" as signed by "+oneLine(person.Name)+", "+person.Role, false)
		a.Document = what
		return records.Draft{Kind: KindAttach, By: person.ID, Data: a, File: content}
	}
	return []records.Draft{draft(records.DocumentWorkbook, "handover.xlsx", s.Workbook), draft(records.DocumentPage, "handover.html", s.Page)}
}
