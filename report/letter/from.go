package letter

import (
	"encoding/base64"
	"html/template"
	"strings"

	"handback/checks/quantity"
	"handback/report"
	"handback/report/certificate"
)

// From takes the data of a template out of a handover.
func From(d *report.Document) Data {
	out := Data{Job: d.Job, Title: d.Title, Site: d.Site, Work: d.Work, Permit: d.Permit, Opened: d.Opened, Last: d.Last,
		Verdict: d.Overall.Code, Overall: report.OverallWords(d.Overall), Ready: d.Overall.Ready, Rule: d.Rule, Deferral: report.Deferral,
		Head: d.Head, Entries: d.Entries, Digest: d.Digest, Plan: d.PlanFile, PlanHash: d.PlanHash, Program: d.Program,
		Heading: d.Form.Heading, Form: d.Form.Number, Said: map[string]string{}, Overrides: d.Overrides, Cautions: d.Cautions, State: d.State}
	if p := d.Form.Logo; p != nil {
		out.Logo = template.URL("data:" + p.Type + ";base64," + base64.StdEncoding.EncodeToString(p.Content))
	}
	for _, x := range d.Identity {
		out.Identity = append(out.Identity, Identity{x.Key, x.Of, d.Form.Labels.Of(x.Label), x.Text})
		if x.Of == "" {
			out.Said[x.Key] = x.Text
		}
	}
	out.Issued, out.Plant = out.Said["issued"], plantOf(d.Identity)
	for _, l := range d.Lacks {
		out.Missing = append(out.Missing, Missing{l.Clause, l.Path, l.What})
	}
	out.checks(d)
	out.lists(d)
	out.names(d)
	return out
}

// plantOf gathers the lines of each piece of plant.
func plantOf(lines []report.IdentityLine) []Plant {
	var out []Plant
	for _, x := range lines {
		if x.Of == "" {
			continue
		}
		sort, key, _ := strings.Cut(x.Key, ".")
		if key == "name" {
			out = append(out, Plant{ID: x.Of, Sort: sort})
		}
		p := &out[len(out)-1]
		*map[string]*string{"name": &p.Name, "maker": &p.Maker, "serial": &p.Serial, "year": &p.Year, "asset": &p.Asset, "rating": &p.Rating,
			"volts": &p.Volts, "group": &p.Group, "impedance": &p.Impedance, "tap": &p.Tap}[key] = x.Text
	}
	return out
}

func (out *Data) checks(d *report.Document) {
	lines := certificate.Lines(d)
	for _, g := range d.Groups {
		for _, p := range g.Checks {
			l := lines[len(out.Checks)]
			c := Check{Number: l.Number, ID: p.ID, Title: p.Title, Kind: p.Kind, Group: g.Name, At: p.At, Verdict: l.Verdict.String(), State: p.State,
				Accepted: p.Conceded, Decided: l.Decided, Value: l.Value, Limit: l.Limit, Source: l.Source, Margin: l.Margin, Why: l.Why,
				Method: report.OneLine(p.How), Sources: p.Sources, Cautions: p.Cautions}
			for _, a := range p.Attempts {
				c.Attempts = append(c.Attempts, attemptOf(a))
			}
			out.Checks = append(out.Checks, c)
		}
	}
}

func attemptOf(a report.AttemptPage) Attempt {
	out := Attempt{Number: a.Number, By: a.By, When: a.When, Why: a.Repeat, Verdict: a.Verdict.String(), Judged: a.Judged, Entry: a.Entry, Until: a.Until}
	for _, r := range a.Readings {
		out.Readings = append(out.Readings, Reading{r.Label, r.Typed, finite(r.Value), r.Number, r.Unit, r.Word, r.Meter, r.Remark, r.Entry})
	}
	for _, v := range a.Derived {
		x := Value{Name: v.Name, Text: v.Text(), Value: finite(v.Value), Number: quantity.Finite(v.Value), Unit: v.Unit}
		if v.Limit != nil {
			x.Limit, x.Source, x.Margin, x.Verdict = v.BareLimit(), v.Limit.Source, v.MarginText(), v.Verdict.String()
		}
		out.Values = append(out.Values, x)
	}
	for _, r := range a.Reasons {
		out.Reasons = append(out.Reasons, Reason{r.Verdict.String(), r.Words})
	}
	return out
}

// finite is x, 0 where it is none.
func finite(x float64) float64 {
	if !quantity.Finite(x) {
		return 0
	}
	return x
}

// lists takes up what was done, found and accepted.
func (out *Data) lists(d *report.Document) {
	for _, s := range d.Stops {
		out.Stops = append(out.Stops, Stop{s.Check, s.Title, s.Attempt, s.Text, s.Standing, s.Outcome})
	}
	for _, h := range d.Holds {
		out.Holds = append(out.Holds, Step{h.ID, h.Action, h.Taken != "", report.HoldWords(h)})
	}
	for _, s := range d.Steps {
		out.Steps = append(out.Steps, Step{s.ID, s.Action, s.Done, s.Words})
	}
	for _, c := range d.Concessions {
		out.Concessions = append(out.Concessions, Concession{c.Check, c.Title, c.Of, c.Engineer, c.When, c.Verdict, c.Finding, c.Reason, c.Proof})
	}
	for _, x := range d.Defects {
		out.Defects = append(out.Defects, Defect{x.Number, x.Words, x.By, x.When, x.State, x.Open})
	}
	for _, n := range d.Notes {
		out.Notes = append(out.Notes, Note{n.Entry, n.When, n.By, n.Check, n.Text})
	}
	for _, f := range d.Flags {
		out.Flags = append(out.Flags, Flag{report.FlagPlace(f), f.What, f.Text, f.Open})
	}
}

// names takes up people, instruments, signatures and files.
func (out *Data) names(d *report.Document) {
	for _, m := range d.Instruments {
		out.Instruments = append(out.Instruments, Instrument{m.ID, m.Name, m.Serial, m.Certificate, m.DueText, m.Category, m.InDate, m.UsedIn, m.Accuracy})
	}
	for _, p := range d.People {
		out.People = append(out.People, Person{p.ID, p.Name, p.Role, p.Firm})
	}
	for _, s := range d.Signatures {
		out.Signatures = append(out.Signatures, Signature{s.Person, s.Name, s.Role, s.When, s.Words, s.Key, report.JoinWords(s.Doubt, s.Untold)})
	}
	for _, a := range d.Attachments {
		out.Attachments = append(out.Attachments, Attachment{a.Entry, a.Check, a.Name, a.Caption, a.SHA256, a.By, a.When})
	}
}
