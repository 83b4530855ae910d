package page

import (
	"fmt"
	"html/template"
	"strings"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/templates"
)

// Make lays a document out as one HTML file without scripts or anything outside it:
// the cover to sign, results at a glance, flags, every check with its readings,
// values, working and pictures, attachments, instruments, and the log of entries. It is HTML and
// well-formed XML at once (polyglot markup), for screen, print and screen reader.
// Equal documents give equal bytes. Characters XML forbids show as U+FFFD. The error
// names what the template lacks.
func Make(d *report.Document) ([]byte, error) {
	data, err := templates.Page("page", newPage(d), d.Form.Labels.Of)
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
	Permit, Entries   string
	Holds             []pageHold
	Flags, OpenFlags  []pageFlag
	MoreFlags         int // open ones the cover leaves to the list
	Results           []pageResult
	Groups            []pageGroup
	Instruments       []pageMeter
	Files             []pageFile
	Plant             template.HTML // a picture of its state
	Deferral          string
	Logo              template.URL // of the owner's form, "" for none
}

type pageHold struct {
	ID, Action, Words, Verb string
	Open                    []pageGap
}

type pageGap struct {
	Check        string
	Bare         bool // a step or a rule: no verdict
	Title, Words string
	Verdict      checks.Verdict
}

type pageFlag struct {
	Place, What, Text string
	Open              bool
}

type pageResult struct {
	Number                int
	Anchor, ID, Title, At string
	Verdict               checks.Verdict
	Why                   string
	Attempts, Entry       int
}

type pageGroup struct {
	Anchor, Name string
	Checks       []pageCheck
}

type pageMeter struct {
	report.MeterLine
	Used string
	Late bool
}

func newPage(d *report.Document) pageView {
	v := pageView{Doc: d, Overall: report.OverallWords(d.Overall), Standing: "not-ready", ShortHead: report.ShortHash(d.Head), Permit: report.OrNone(d.Permit),
		Entries: report.Count(d.Entries, "entry", "entries"), Deferral: report.Deferral, Files: newPageFiles(d.Attachments),
		Plant: oneLine("plant-state", "State of the plant", d.Picture)}
	switch {
	case d.Overall.Code == chain.Stopped:
		v.Standing = "stop"
	case d.Overall.Ready:
		v.Standing = "ready"
	}
	if d.Form.Logo != nil {
		v.Logo = embedded(d.Form.Logo)
	}
	for _, h := range d.Holds {
		v.Holds = append(v.Holds, newPageHold(h))
	}
	for _, f := range d.Flags {
		line := pageFlag{report.FlagPlace(f), f.What, f.Text, f.Open}
		v.Flags = append(v.Flags, line)
		if f.Open && len(v.OpenFlags) < report.CoverFlags {
			v.OpenFlags = append(v.OpenFlags, line)
		} else if f.Open {
			v.MoreFlags++
		}
	}
	number := 0
	for i, g := range d.Groups {
		group := pageGroup{Anchor: fmt.Sprintf("group-%d", i+1), Name: g.Name}
		for _, p := range g.Checks {
			number++
			c := newPageCheck(p, number)
			group.Checks = append(group.Checks, c)
			v.Results = append(v.Results, c.result())
		}
		v.Groups = append(v.Groups, group)
	}
	for _, m := range d.Instruments {
		used := "not used"
		if len(m.UsedIn) > 0 {
			used = strings.Join(m.UsedIn, ", ")
		}
		v.Instruments = append(v.Instruments, pageMeter{m, used, m.InDate == "no"})
	}
	return v
}

func newPageHold(h report.HoldLine) pageHold {
	out := pageHold{ID: h.ID, Action: h.Action, Words: report.HoldWords(h), Verb: "waits for"}
	if h.Taken != "" {
		out.Verb = "waited for"
	}
	for _, g := range h.Open {
		out.Open = append(out.Open, pageGap{g.Name(), g.Check == "", g.Title, g.Words(), g.Verdict})
	}
	return out
}
