package page

import (
	"bytes"
	"fmt"
	"html/template"
	"io"

	"handback/records/chain"
	"handback/report"
	"handback/report/certificate"
	"handback/templates"
)

// Make lays a document out as one HTML file without scripts or anything outside it: the
// certificate to sign with every check in a line, a test sheet a check, the log of the
// steps, attachments, and annexes that are closed on the screen and not printed. It is HTML
// and well-formed XML at once (polyglot markup), for screen, print and screen reader.
// Equal documents give equal bytes. Characters XML forbids show as U+FFFD. The error
// names what the template lacks.
func Make(d *report.Document) ([]byte, error) {
	var out bytes.Buffer
	err := Write(&out, d)
	return out.Bytes(), err
}

// Write is Make, written as it is made.
func Write(w io.Writer, d *report.Document) error {
	v := newPage(d)
	code, err := certificate.Code(d)
	if err != nil {
		return err
	}
	v.Code = embedded(code)
	p := &plainLines{to: w}
	if err := templates.Page(p, "page", v, d.Form.Labels.Of); err != nil {
		return fmt.Errorf("page of job %s: %w", d.Job, err)
	}
	return p.put(len(p.rest))
}

// plainLines makes text plain, line by line: the end of a line leaves nothing to what
// comes after it.
type plainLines struct {
	to   io.Writer
	rest []byte // of the line that is not whole
}

// enough is how much is written at once.
const enough = 64 << 10

func (p *plainLines) Write(data []byte) (int, error) {
	if p.rest = append(p.rest, data...); len(p.rest) < enough {
		return len(data), nil
	}
	return len(data), p.put(bytes.LastIndexByte(p.rest, '\n') + 1)
}

// put writes the first n bytes of what is left.
func (p *plainLines) put(n int) error {
	_, err := io.WriteString(p.to, report.Plain(string(p.rest[:n])))
	p.rest = p.rest[:copy(p.rest, p.rest[n:])]
	return err
}

// pageView is what the templates of the page place: words, and pictures already drawn.
type pageView struct {
	Doc               *report.Document
	Overall, Standing string // words, and ready, not-ready or stop
	ShortHead         string
	Entries           string
	Deferral          string
	Logo              template.URL // of the owner's form, "" for none
	Code              template.URL // the square code of the certificate

	Papers, Plates                                               []fact
	Lacks                                                        []string // what a report needs and the plan does not say
	Results, Stops, Holds, Concessions, Open, Instruments, Boxes *table
	MoreFlags                                                    int // open ones the certificate leaves to the log

	Groups                                        []pageGroup
	Steps, Gaps, Registers, Flags, Defects, Notes *table
	Plant                                         template.HTML // a picture of its state
	Files                                         []pageFile
	Annexes                                       annexes
}

type pageGroup struct {
	Anchor, Name string
	Checks       []pageCheck
}

func newPage(d *report.Document) pageView {
	v := pageView{Doc: d, Overall: report.OverallWords(d.Overall), Standing: "not-ready", ShortHead: report.ShortHash(d.Head),
		Entries: report.Count(d.Entries, "entry", "entries"), Deferral: report.Deferral,
		Results: newResults(d), Stops: newStops(d), Holds: newHolds(d), Concessions: newConcessions(d), Instruments: newInstruments(d), Boxes: newBoxes(d),
		Steps: newSteps(d), Gaps: newGaps(d), Registers: newRegisters(d), Flags: newFlags(d), Defects: newDefects(d), Notes: newNotes(d),
		Plant: oneLine("plant-state", d.Form.Labels.Of("State of the plant"), d.Picture), Files: newPageFiles(d.Attachments), Annexes: newAnnexes(d)}
	v.Open, v.MoreFlags = newOpen(d)
	v.Papers, v.Plates = newIdentity(d)
	for _, l := range d.Lacks {
		v.Lacks = append(v.Lacks, l.What)
	}
	switch {
	case d.Overall.Code == chain.Stopped:
		v.Standing = "stop"
	case d.Overall.Ready:
		v.Standing = "ready"
	}
	if d.Form.Logo != nil {
		v.Logo = embedded(d.Form.Logo)
	}
	number := 0
	for i, g := range d.Groups {
		group := pageGroup{Anchor: fmt.Sprintf("group-%d", i+1), Name: g.Name}
		for _, p := range g.Checks {
			number++
			group.Checks = append(group.Checks, newPageCheck(p, number))
		}
		v.Groups = append(v.Groups, group)
	}
	return v
}
