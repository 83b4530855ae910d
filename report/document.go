package report

import (
	"fmt"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/chain"
	"handback/report/form"
	"handback/report/oneline"
	"handback/templates"
)

// Document is everything a handover says, worked out once; workbook, page and text
// only lay it out. Words are final; numbers stay numbers beside their words.
type Document struct {
	Job, Title, Site, Work, Permit string
	PlanID, PlanFile, PlanHash     string // as opened
	PlanText                       string // as opened
	Force                          string // SHA-256 of the plan in force: that, or as amended last
	Program                        string
	Opened, Last                   string
	Head                           string
	Identifier                     string // of the job, in short
	Entries                        int
	Data                           []byte // of the handover: what workbook, page and text show
	Digest                         string // SHA-256 of Data, in hexadecimal
	Rule                           string
	Overall                        Overall
	Stops                          []Stop
	Flags                          []Flag
	Concessions                    []ConcessionLine
	Holds                          []HoldLine
	Steps                          []StepLine // plain steps
	Overrides                      []string   // rules that somebody took upon them
	Registers                      []Register
	State                          []string // how the plant stands, nil without a network
	Picture                        *oneline.Picture
	People                         []plan.Person
	Signatures                     []SignatureLine
	Attachments                    []AttachmentLine
	Form                           form.Form // the owner's; Data do not hang on it
	Identity                       []IdentityLine
	Lacks                          []plan.Lack // what a report needs and the plan does not say
	Plant                          [][2]string // nameplate data, name and value
	Cautions                       []string
	Groups                         []Group
	Instruments                    []MeterLine
	Notes                          []NoteLine
	Defects                        []DefectLine
	Amendments                     []AmendmentLine // of the plan
	TakenOut                       []TakenOutLine  // of the plan, by amendments
	Log                            []LogLine
}

// Stop is a finding nobody may pass over. It stays on the first page, cured or not.
type Stop struct {
	Check, Title string
	Attempt      int
	Text         string
	Standing     bool   // it is the newest finding of its check
	Outcome      string // what became of it
}

// ConcessionLine is an engineer's acceptance.
type ConcessionLine struct {
	Check, Title, Engineer, When, Verdict, Finding, Reason string
	Of                                                     string // the attempt, or that it was not done
	Proof                                                  string // whose key signed it, or that it is unsigned
}

// SignatureLine is a person's signature by key.
type SignatureLine struct {
	Entry                    int
	Person, Name, Role, When string // Person is the id in People
	Words                    string // who signed what, and how much came after it
	Key                      string // fingerprint
	Doubt                    string // why it is not shown to be good, "" when it is
	Untold                   string // why nothing tells whose key it is, "" when something does
}

// Group is one group of checks, in the order of the plan's first of each.
type Group struct {
	Name   string
	Checks []CheckPage
}

// CheckPage is one check with all its attempts.
type CheckPage struct {
	ID, Title, Kind, At, Note string
	Follows                   string // number, revision and section of the procedure
	Shows, How                string
	Verdict                   checks.Verdict // newest judged attempt; missing when none
	Conceded                  bool
	State                     string // verdict in words, with concession or skip
	Why                       string
	Cautions                  []string
	Sources                   []string
	Hangs                     Hang // on what it hangs that the check is closed
	Attempts                  []AttemptPage
	Trend                     *Trend // nil when no earlier job took it
}

// AttemptPage is one set of answers with its finding.
type AttemptPage struct {
	Number           int
	By, When, Repeat string
	Verdict          checks.Verdict
	Judged           bool
	Stop, Rule       string
	Until            string
	Entry, First     int // seq of the entry that judged it last, and first; 0 when not judged
	Readings         []AnswerLine
	Derived          []checks.Derived
	Finding          *checks.Finding // of a judged attempt whose answers are still those judged
	Again            *checks.Input   // what the newest attempt is judged from once an answer is put right; nil of others
	Reasons          []Reason
	Cautions         []string // beside those of the kind
	Diagram          *checks.Diagram
	Course           *checks.Course
}

// AnswerLine is one answer as shown.
type AnswerLine struct {
	Key, Label, Typed string
	Value             float64 // in Unit; only where Number
	Number            bool
	Unit, Bound       string
	Word              string // shown where it is no number
	Chosen            string // the word where it is one of those the form offers, or a time
	Expect            *checks.Expect
	Meter             string
	Entry             int // seq of the entry that gave it
	Sort              checks.Sort
	Options           []string // of a choice
	Remark            string
	Happened          string // what of the remark tells what became of it
}

// NewDocument works out what a handover of the job says at a time. Earlier jobs on
// the same plant, oldest first, give the trend of its judged values.
func NewDocument(j *Job, now time.Time, earlier ...*Job) (*Document, error) {
	head := j.Head()
	d := &Document{
		Job: j.ID, Title: j.Plan.Title, Site: j.Plan.Site, Work: j.Plan.Work, Permit: j.Plan.Permit,
		PlanID: j.Plan.ID, PlanFile: j.Opened.PlanFile, PlanHash: j.PlanHash, PlanText: j.opened().Text(), Force: j.Force(), Program: j.Opened.Program,
		Opened: Stamp(j.OpenedAt), Last: Stamp(head.At), Head: head.Hash, Identifier: ShortHash(j.Identifier()), Entries: len(j.Entries),
		Rule: RuleWords(j.Plan.Rule), Flags: j.Flags(now), People: j.Plan.People,
		Identity: j.identityLines(now), Lacks: j.Plan.Lacks(), Plant: plantLines(j.Plan),
	}
	for _, s := range j.all() {
		d.Stops = append(d.Stops, stopsOf(s)...)
		for _, c := range s.Concessions {
			d.Concessions = append(d.Concessions, j.concessionLine(s, c))
		}
	}
	for _, it := range j.Plan.Items() {
		if it.Hold != nil {
			d.Holds = append(d.Holds, j.holdLine(it.Hold, now))
		}
	}
	d.addSteps(j, now)
	var err error
	if d.Data, err = j.HandoverData(now); err != nil {
		return nil, err
	}
	d.Digest = chain.HashFile(d.Data)
	if d.Overall, err = j.Standing(now); err != nil {
		return nil, err
	}
	if d.Signatures, err = j.signatureLines(); err != nil {
		return nil, err
	}
	if d.Attachments, err = j.attachmentLines(); err != nil {
		return nil, err
	}
	if d.Form, err = j.ownForm(); err != nil {
		return nil, err
	}
	if err := d.addChecks(j, now, earlier); err != nil {
		return nil, err
	}
	d.Instruments, d.Defects, d.Amendments, d.TakenOut = j.meterLines(), j.defectLines(), j.amendmentLines(), j.takenOutLines()
	for _, n := range j.Notes {
		d.Notes = append(d.Notes, NoteLine{n.Seq, Stamp(n.At), j.PersonName(n.By), n.Check, n.Text})
	}
	for _, e := range j.Entries {
		d.Log = append(d.Log, LogLine{e.Seq, Stamp(e.At), j.PersonName(e.By), e.Kind, e.Check, EntryWords(e), e.Hash})
	}
	return d, nil
}

// addChecks adds the page of every check to its group, and their cautions once.
func (d *Document) addChecks(j *Job, now time.Time, earlier []*Job) error {
	group := ""
	for _, s := range j.States {
		p, err := j.page(s)
		if err != nil {
			return err
		}
		p.Trend = j.trend(s, earlier)
		if !s.Check.Kind.Anywhere || group == "" {
			group = s.Check.Kind.Group
		}
		p.Hangs = j.hangs(s, j.staleAt(s, now))
		if p.Hangs == HangsOnRecord && p.Verdict == checks.Pass {
			p.State = "pass, does not count any longer"
		}
		d.add(group, p)
		for _, c := range p.Cautions {
			if !slices.Contains(d.Cautions, c) {
				d.Cautions = append(d.Cautions, c)
			}
		}
	}
	return nil
}

func (d *Document) add(group string, p CheckPage) {
	if i := slices.IndexFunc(d.Groups, func(g Group) bool { return g.Name == group }); i >= 0 {
		d.Groups[i].Checks = append(d.Groups[i].Checks, p)
		return
	}
	d.Groups = append(d.Groups, Group{group, []CheckPage{p}})
}

// Shown is the verdict a result is shown with: a pass that does not count any longer
// is none.
func (p CheckPage) Shown() checks.Verdict {
	if p.Hangs == HangsOnRecord && p.Verdict == checks.Pass {
		return checks.Missing
	}
	return p.Verdict
}

// Pages are all checks in the order of their groups.
func (d *Document) Pages() []CheckPage {
	var out []CheckPage
	for _, g := range d.Groups {
		out = append(out, g.Checks...)
	}
	return out
}

func (j *Job) page(s *State) (CheckPage, error) {
	block, err := templates.Kind(s.Check.Kind.Name)
	if err != nil {
		return CheckPage{}, err
	}
	p := CheckPage{ID: s.Check.ID, Title: s.Check.Title, Kind: s.Check.Kind.Name, At: s.Check.At, Note: s.Check.Note, Follows: s.Check.Follows.Words,
		Shows: block.Shows, How: block.How, Verdict: s.Verdict(), Conceded: s.IsConceded(), State: stateWords(s),
		Cautions: s.Check.Kind.Cautions, Sources: s.Check.Kind.Sources}
	if a := s.LastJudged(); a != nil {
		p.Why = a.Told.Why()
		if n := len(a.Finding.Reasons); a.Finding.Verdict == checks.Pass && n > 1 {
			p.Why = fmt.Sprintf("%d judged, all within their limits", n) // a pass has no single reason
		}
	} else if s.Skip != nil {
		p.Why = s.Skip.Why
	}
	if why := j.Lapsed(s); why != "" {
		p.Why = why
	}
	if why := j.OrderWords(s.Check.ID); why != "" {
		p.Why = JoinWords(why, p.Why)
	}
	if why := j.PhotosOpen(s); why != "" {
		p.Why = JoinWords(why, p.Why)
	}
	for _, a := range s.Attempts {
		p.Attempts = append(p.Attempts, j.attemptPage(s, a))
	}
	return p, nil
}

// procedureWords tell which document a procedure of the plan is, and which it was before
// amendments.
func (j *Job) procedureWords(x plan.Procedure) string {
	out := x.Words() + ": " + x.Title
	all := j.versions()
	for i, a := range j.Amendments {
		if was, is := all[i].ProcedureOf(x.ID), all[i+1].ProcedureOf(x.ID); was != nil && (is == nil || was.Words() != is.Words()) {
			out += fmt.Sprintf("; %s until entry %d", was.Words(), a.Seq)
		}
	}
	return out
}

func stateWords(s *State) string {
	v := s.Verdict().String()
	switch {
	case s.AcceptedSkip() && s.LastJudged() == nil:
		return "skipped, accepted as not done"
	case s.IsConceded():
		return v + ", accepted under concession"
	case s.LastJudged() == nil && s.Skip != nil:
		return "skipped"
	case s.Last() != nil && !s.Last().Judged && s.LastJudged() != nil:
		return v + ", repeat begun"
	case s.Last() != nil && !s.Last().Judged:
		return "not complete"
	}
	return v
}

func (j *Job) attemptPage(s *State, a *Attempt) AttemptPage {
	p := AttemptPage{Number: a.Number, By: j.PersonName(a.By), When: Stamp(a.First), Repeat: a.Why, Judged: a.Judged, Again: j.correctable(s, a)}
	if a.Judged {
		f := a.Finding
		if !a.Unjudged() {
			p.Finding = &f
		}
		p.Verdict, p.Stop, p.Rule, p.Derived, p.Reasons = f.Verdict, a.Told.Stopping(), f.Rule, f.Derived, a.Told.Reasons
		for _, c := range f.Cautions {
			p.Cautions = append(p.Cautions, Words(s.Check.Kind, c))
		}
		p.When, p.Entry, p.First, p.Diagram, p.Course = Stamp(a.At), a.Seq, a.JudgedFirst, f.Diagram, f.Course
		if !f.Until.IsZero() {
			p.Until = Stamp(f.Until)
		}
	}
	for _, g := range j.Given(s, a) {
		p.Readings = append(p.Readings, j.answerLine(g.Field, g.Answer, a))
	}
	return p
}

func (j *Job) answerLine(f checks.Field, ans checks.Answer, a *Attempt) AnswerLine {
	r := AnswerLine{Key: f.Key, Label: f.Label, Typed: ans.Typed, Unit: f.Unit, Bound: ans.Bound, Word: ans.Word, Expect: f.Expect, Entry: entryOf(a, f.Key), Sort: f.Sort}
	if ans.NotThere != "" {
		r.Word, r.Remark, r.Happened = "not there", ans.NotThere, ans.NotThere
		return r
	}
	switch f.Sort {
	case checks.Measured:
		r.Number, r.Value = true, quantity.FromBase(ans.Value, f.Unit)
	case checks.Count:
		r.Number, r.Value = true, ans.Value
	case checks.Choice, checks.MeterUsed:
		r.Chosen, r.Options = r.Word, f.Options
	case checks.Instant:
		r.Word = Stamp(ans.Time())
		r.Chosen = r.Word
	case checks.Initials:
		r.Word = j.PersonName(ans.Word)
	}
	if used, ok := a.Answers[f.Meter]; ok && f.Meter != "" {
		r.Meter = used.Word
	}
	if ans.Kept != "" {
		r.Happened = "stored although in doubt: " + ans.Kept
	}
	if from := ans.From; from != nil {
		r.Happened = JoinWords(r.Happened, fmt.Sprintf("taken from %s, entry %d", from.Check, from.Entry))
	}
	for _, c := range a.Corrections {
		if c.Key == f.Key {
			r.Happened = JoinWords(r.Happened, "was "+c.Was.Typed+", corrected: "+c.Why)
		}
	}
	r.Remark = r.Happened
	if f.Expect != nil && r.Number && ans.Bound == "" {
		r.Remark = JoinWords(offWords(f, ans), r.Happened)
	}
	return r
}

// WorksOut tells whether any attempt of a check has values to work out.
func (p CheckPage) WorksOut() bool { return slices.ContainsFunc(p.Attempts, AttemptPage.WorksOut) }
