package seal

import (
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
	"handback/report/page"
	"handback/report/workbook"
)

// Signable are the documents that show the state a person signs: they are signed with
// the statement, by their SHA-256, and kept as they were.
type Signable struct{ Workbook, Page []byte }

// NewSignable makes the documents of a job as it stands at its last entry: the very
// bytes that a handover of it has. j.Files must be at hand when there are attachments.
func NewSignable(j *report.Job) (Signable, error) {
	d, err := report.NewDocument(j, j.Head().At)
	if err != nil {
		return Signable{}, err
	}
	book, err := workbook.Make(d)
	if err != nil {
		return Signable{}, err
	}
	page, err := page.Make(d)
	return Signable{book, page}, err
}

// NamedIn is a statement that names the documents.
func (s Signable) NamedIn(st chain.Statement) chain.Statement {
	st.Workbook, st.Page = chain.HashFile(s.Workbook), chain.HashFile(s.Page)
	return st
}

// Drafts are the entries that keep the documents. They go right before the signature,
// with which they are stored as one.
func (s Signable) Drafts(person *plan.Person) []chain.Draft {
	draft := func(what, name string, content []byte) chain.Draft {
		a := chain.NewAttached(name, content, what+" as signed by "+report.OneLine(person.Name)+", "+person.Role, false)
		a.Document = what
		return chain.Draft{Kind: report.EntryAttach, By: person.ID, Data: a, File: content}
	}
	return []chain.Draft{draft(chain.DocumentWorkbook, "handover.xlsx", s.Workbook), draft(chain.DocumentPage, "handover.html", s.Page)}
}
