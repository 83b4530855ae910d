package page

import (
	"fmt"
	"html/template"

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
	v := newPage(d)
	code, err := certificate.Code(d)
	if err != nil {
		return nil, err
	}
	v.Code = embedded(code)
	data, err := templates.Page("page", v, d.Form.Labels.Of)
	if err != nil {
		return nil, fmt.Errorf("page of job %s: %w", d.Job, err)
	}
	return []byte(report.Plain(string(data))), nil
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
