package export

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"handback/report"
)

// Head is what a document says before its tables.
type Head struct {
	V        int       `json:"v" title:"version of the document, 1"`
	Job      string    `json:"job" title:"job"`
	Title    string    `json:"title" title:"what the job is about"`
	Site     string    `json:"site,omitempty" title:"site"`
	Work     string    `json:"work,omitempty" title:"work done"`
	Permit   string    `json:"permit,omitempty" title:"permit"`
	PlanHash string    `json:"plan_hash" title:"SHA-256 of the plan the job was opened with"`
	At       time.Time `json:"at" title:"time of the newest entry: the state that is told"`
	Last     int       `json:"last" title:"number of the newest entry"`
	HeadHash string    `json:"head" title:"its hash"`
	Verdict  string    `json:"verdict" title:"what the whole job comes to"`
	Base     string    `json:"numbers" title:"how numbers are given"`
}

// numbers says how they are given; it is the same in every document.
const numbers = "readings: value in the base unit of unit and ucum, number as typed in number_unit and number_ucum; values: in their own unit"

// Document is the JSON document as a whole. It is written a row at a time.
type Document struct {
	Head
	Checks   []CheckRow   `json:"checks"`
	Findings []FindingRow `json:"findings"`
	Values   []ValueRow   `json:"values"`
	Readings []ReadingRow `json:"readings"`
	Steps    []StepRow    `json:"steps"`

	Acceptances []AcceptanceRow `json:"acceptances"`
	Remarks     []RemarkRow     `json:"remarks"`

	Entries []EntryRow `json:"entries"`
}

// JSON writes the job as it stands at its newest entry, one row a line. The same job
// gives the same bytes.
func JSON(w io.Writer, j *report.Job) error {
	last := j.Head()
	head := Head{1, j.ID, j.Plan.Title, j.Plan.Site, j.Plan.Work, j.Plan.Permit, j.PlanHash, last.At, last.Seq, last.Hash, j.Overall(last.At).Code, numbers}
	out := bufio.NewWriter(w)
	first, err := line(head)
	if err != nil {
		return err
	}
	out.Write(first[:len(first)-1]) // the tables go into the same object
	for _, t := range tables {
		fmt.Fprintf(out, ",\n%q:[", t.name)
		between := "\n"
		for row := range t.rows(j, last.At) {
			data, err := line(row)
			if err != nil {
				return err
			}
			out.WriteString(between)
			out.Write(data)
			between = ",\n"
		}
		out.WriteString("]")
	}
	out.WriteString("}\n")
	return out.Flush()
}

// line is a value as JSON in one line, with the signs of texts as they are.
func line(v any) ([]byte, error) {
	var b lineWriter
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.data, err
}

// lineWriter keeps what is written, without the line end of the encoder.
type lineWriter struct{ data []byte }

func (l *lineWriter) Write(b []byte) (int, error) {
	l.data = append(l.data, b...)
	if n := len(l.data); n > 0 && l.data[n-1] == '\n' {
		l.data = l.data[:n-1]
	}
	return len(b), nil
}
