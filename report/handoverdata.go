package report

import (
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report/fork"
)

// Handed is what a handover says, as data: what the plan and the entries say, and
// what the findings come to. Words that the program makes are left out, so that a
// better wording changes no digest; verdicts, stops, reasons and values stand as they
// were recorded when they were judged, which every machine reads alike. Files that
// were attached and the log are covered by the head hash.
//
// SHA-256 over these data in the form of RFC 8785 stands in every statement, workbook,
// page and text of that state, and is the same in all of them. Members that come later
// must be left out where they are empty, so that the data of jobs signed before stay
// the same to the byte.
type Handed struct {
	V           int               `json:"v"` // 1
	Job         string            `json:"job"`
	Title       string            `json:"title"`
	Site        string            `json:"site"`
	Work        string            `json:"work"`
	Permit      string            `json:"permit"`
	Papers      *handedPapers     `json:"papers,omitempty"`
	Plates      []handedPlate     `json:"plates,omitempty"`
	Procedures  []handedProcedure `json:"procedures,omitempty"`
	PlanHash    string            `json:"plan_hash"`
	Entries     int               `json:"entries"`
	Head        string            `json:"head"`
	At          time.Time         `json:"at"`      // the moment it is said of
	Verdict     string            `json:"verdict"` // one of chain.Verdicts
	Stops       []handedStop      `json:"stops"`
	Checks      []handedCheck     `json:"checks"` // in plan order
	Holds       []handedHold      `json:"holds"`  // likewise
	Steps       []handedStep      `json:"steps,omitempty"`
	Found       []handedFound     `json:"found,omitempty"`
	Concessions []handedAccepted  `json:"concessions"`
	Notes       []handedNote      `json:"notes"`
	Defects     []handedDefect    `json:"defects,omitempty"` // by number
	Remarks     []handedRemark    `json:"remarks,omitempty"` // of reviews, by number
	Amendments  []handedAmended   `json:"amendments,omitempty"`
	TakenOut    []handedCheck     `json:"taken_out,omitempty"` // checks, with their attempts
	Forks       []fork.Fork       `json:"forks,omitempty"`     // other continuations that were known and not joined
}

// handedPapers are what the plan in force says of the paper and those it passes between.
type handedPapers struct {
	Client   *handedFirm `json:"client,omitempty"`
	TestedBy *handedFirm `json:"tested_by,omitempty"`
	Address  string      `json:"site_address,omitempty"`
	Drawing  string      `json:"drawing,omitempty"`
	Number   string      `json:"number,omitempty"`
	Revision string      `json:"revision,omitempty"`
	Order    string      `json:"order,omitempty"`
	Method   string      `json:"method_statement,omitempty"`
}

type handedFirm struct {
	Name    string `json:"name"`
	Address string `json:"address,omitempty"`
	Contact string `json:"contact,omitempty"`
}

// handedPlate is what tells a piece of plant from others; one with none is left out.
type handedPlate struct {
	Plant  string `json:"plant"`
	Maker  string `json:"maker,omitempty"`
	Serial string `json:"serial,omitempty"`
	Year   string `json:"year,omitempty"`
	Asset  string `json:"asset,omitempty"`
}

// handedProcedure is a document that is followed, by all or by the checks and steps that name it.
type handedProcedure struct {
	Procedure string   `json:"procedure"`
	Number    string   `json:"number"`
	Revision  string   `json:"revision"`
	Title     string   `json:"title"`
	NamedBy   []string `json:"named_by,omitempty"`
}

// handedStop is a stop that stands; its words stand with the judgement.
type handedStop struct {
	Check   string `json:"check"`
	Attempt int    `json:"attempt"`
	Code    string `json:"code,omitempty"`
}

type handedCheck struct {
	Check    string          `json:"check"`
	Kind     string          `json:"kind"`
	Title    string          `json:"title"`
	At       string          `json:"at,omitempty"`
	Verdict  checks.Verdict  `json:"verdict"`
	Conceded bool            `json:"conceded"`
	Stands   string          `json:"stands"` // closed, conceded, open or stop
	Skipped  string          `json:"skipped,omitempty"`
	Attempts []handedAttempt `json:"attempts"`
}

type handedAttempt struct {
	Attempt     int                `json:"attempt"`
	By          string             `json:"by"`
	Begun       time.Time          `json:"begun"`
	Why         string             `json:"why,omitempty"`
	PastHold    string             `json:"past_hold,omitempty"`
	Answers     checks.Answers     `json:"answers"` // corrections taken in
	Corrections []handedCorrection `json:"corrections,omitempty"`
	Judged      *handedFinding     `json:"judged,omitempty"` // as it was judged last
}

type handedCorrection struct {
	Entry int           `json:"entry"`
	Key   string        `json:"key"`
	Was   checks.Answer `json:"was"`
	Why   string        `json:"why"`
}

type handedFinding struct {
	Entry   int                `json:"entry"`
	Verdict checks.Verdict     `json:"verdict"`
	Stop    *Stopped           `json:"stop,omitempty"`
	Reasons []Reason           `json:"reasons"`
	Values  map[string]float64 `json:"values"`
}

type handedHold struct {
	Hold   string   `json:"hold"`
	Action string   `json:"action"`
	Taken  string   `json:"taken,omitempty"` // RFC 3339
	By     string   `json:"by,omitempty"`
	Open   []string `json:"open"` // checks, steps and rules it waits for; once taken, those it waited for then
	handedDid
}

type handedAccepted struct {
	Entry    int            `json:"entry"`
	Check    string         `json:"check"`
	Attempt  int            `json:"attempt"`
	Engineer string         `json:"engineer"`
	Verdict  checks.Verdict `json:"verdict"`
	Reason   string         `json:"reason"`
	Skip     int            `json:"skip,omitempty"` // the entry that left it out, where that is accepted
	handedProof
}

// handedProof is what shows who gave an acceptance. Jobs from before acceptances were signed
// tell nothing of one that nobody signed.
type handedProof struct {
	Key       string `json:"key,omitempty"`       // fingerprint of the key that signed it
	Doubt     bool   `json:"doubt,omitempty"`     // it does not hold, or nothing tells whose key it is
	Telephone bool   `json:"telephone,omitempty"` // given by telephone: open until the signature follows
	Unsigned  bool   `json:"unsigned,omitempty"`
}

type handedNote struct {
	Entry int    `json:"entry"`
	By    string `json:"by"`
	Check string `json:"check,omitempty"`
	Text  string `json:"text"`
}

type handedDefect struct {
	Entry int `json:"entry"`
	Raised
	Done string `json:"done,omitempty"` // what was done about it; it is open without
}

type handedRemark struct {
	Entry int    `json:"entry"`
	By    string `json:"by"`
	Check string `json:"check,omitempty"`
	Remarked
	Stands    bool         `json:"stands,omitempty"` // it waits
	Met       int          `json:"met,omitempty"`    // the entry that met the order
	Answer    *handedReply `json:"answer,omitempty"`
	Withdrawn *handedReply `json:"withdrawn,omitempty"`
}

type handedReply struct {
	Entry int    `json:"entry"`
	By    string `json:"by"`
	Text  string `json:"text"`
}

type handedAmended struct {
	Entry    int               `json:"entry"`
	By       string            `json:"by"`
	Why      string            `json:"why"`
	PlanHash string            `json:"plan_hash"`
	Differs  []plan.Difference `json:"differs"` // from the plan in force before it
	Accepted *handedAcceptance `json:"accepted,omitempty"`
}

type handedAcceptance struct {
	Entry  int    `json:"entry"`
	By     string `json:"by"`
	Reason string `json:"reason"`
	handedProof
}

func (j *Job) handProof(entry int) handedProof {
	p := j.Proof(entry)
	return handedProof{Key: p.Key, Doubt: p.Fault != "" || p.NotSo != "" || p.Unlisted != "", Telephone: p.Telephone != "",
		Unsigned: j.Opened.Acceptances == AcceptancesSigned && p.Key == "" && p.Fault == "" && p.Telephone == ""}
}

// HandoverData are the data of the handover of the job as it stands at its last
// entry, at a time, in the form of RFC 8785: equal jobs give equal bytes.
func (j *Job) HandoverData(at time.Time) ([]byte, error) {
	head := j.Head()
	d := Handed{V: 1, Job: j.ID, Title: j.Plan.Title, Site: j.Plan.Site, Work: j.Plan.Work, Permit: j.Plan.Permit, PlanHash: j.PlanHash,
		Entries: head.Seq, Head: head.Hash, At: at, Verdict: j.Overall(at).Code, Stops: []handedStop{},
		Checks: []handedCheck{}, Holds: []handedHold{}, Concessions: []handedAccepted{}, Notes: []handedNote{}}
	j.handPapers(&d)
	for _, s := range j.StandingStops() {
		d.Stops = append(d.Stops, handedStop{s.Check, s.Attempt, s.Code})
	}
	for _, s := range j.States {
		d.Checks = append(d.Checks, newHandedCheck(s, j.StandsAt(s, at)))
	}
	for _, s := range j.all() {
		for _, c := range s.Concessions {
			d.Concessions = append(d.Concessions, handedAccepted{c.Seq, s.Check.ID, c.Attempt, c.Engineer, c.Verdict, c.Reason, c.Skip, j.handProof(c.Seq)})
		}
	}
	for _, it := range j.Plan.Items() {
		if it.Hold != nil {
			d.Holds = append(d.Holds, j.newHandedHold(it.Hold, at))
		}
	}
	j.handSteps(&d)
	for _, n := range j.Notes {
		d.Notes = append(d.Notes, handedNote{n.Seq, n.By, n.Check, n.Text})
	}
	for _, x := range j.Defects {
		h := handedDefect{Entry: x.Seq, Raised: x.Raised}
		if x.Closed != nil {
			h.Done = x.Closed.Done
		}
		d.Defects = append(d.Defects, h)
	}
	j.handRemarks(&d)
	for _, a := range j.Amendments {
		h := handedAmended{Entry: a.Seq, By: a.By, Why: a.Why, PlanHash: a.PlanHash, Differs: a.Differs}
		if x := a.Accepted; x != nil {
			h.Accepted = &handedAcceptance{x.Seq, x.By, x.Reason, j.handProof(x.Seq)}
		}
		d.Amendments = append(d.Amendments, h)
	}
	for _, s := range j.TakenOut {
		d.TakenOut = append(d.TakenOut, newHandedCheck(s, j.StandsAt(s, at)))
	}
	d.Forks = j.Forks()
	return chain.Canonical(d)
}

// handPapers adds what the plan says of papers and plates; the drawing of a network alone
// adds nothing, so that jobs without papers keep their data.
func (j *Job) handPapers(d *Handed) {
	p := j.Plan
	if x := p.Papers; x != (plan.Papers{}) {
		d.Papers = &handedPapers{Client: handFirm(x.Client), TestedBy: handFirm(x.TestedBy), Address: x.Address, Drawing: x.Drawing,
			Number: x.Document.Number, Revision: x.Document.Revision, Order: x.Order, Method: x.Method}
	}
	for _, x := range p.Used() {
		d.Procedures = append(d.Procedures, handedProcedure{x.ID, x.Number, x.Revision, x.Title, p.Naming(x.ID)})
	}
	hand := func(id string, x plan.Plate) {
		if x != (plan.Plate{}) {
			d.Plates = append(d.Plates, handedPlate{id, x.Maker, x.Serial, x.Year, x.Asset})
		}
	}
	for _, t := range p.Plant.Transformers {
		hand(t.ID, t.Plate)
	}
	for _, x := range p.Plant.Incomers {
		hand(x.ID, x.Plate)
	}
	for _, b := range p.Plant.Boards {
		hand(b.ID, b.Plate)
	}
}

func handFirm(f plan.Firm) *handedFirm {
	if f == (plan.Firm{}) {
		return nil
	}
	return &handedFirm{f.Name, f.Address, f.Reached()}
}

func newHandedCheck(s *State, stands string) handedCheck {
	out := handedCheck{Check: s.Check.ID, Kind: s.Check.Kind.Name, Title: s.Check.Title, At: s.Check.At, Verdict: s.Verdict(), Conceded: s.IsConceded(), Stands: stands, Attempts: []handedAttempt{}}
	if s.Skip != nil {
		out.Skipped = s.Skip.Why
	}
	for _, a := range s.Attempts {
		h := handedAttempt{Attempt: a.Number, By: a.By, Begun: a.First, Why: a.Why, PastHold: a.PastHold, Answers: a.Answers}
		for _, c := range a.Corrections {
			h.Corrections = append(h.Corrections, handedCorrection{c.Seq, c.Key, c.Was, c.Why})
		}
		if r := a.Recorded; a.Judged {
			h.Judged = &handedFinding{a.Seq, r.Verdict, r.Stop, r.Reasons, r.Values}
		}
		out.Attempts = append(out.Attempts, h)
	}
	return out
}

func (j *Job) newHandedHold(h *plan.Hold, at time.Time) handedHold {
	out := handedHold{Hold: h.ID, Action: h.Action, Open: []string{}}
	var gaps []Gap
	if s, ok := j.Steps[h.ID]; ok {
		out.Taken, out.By, gaps, out.handedDid = s.Taken.Format(time.RFC3339), s.By, s.Open, newHandedDid(s)
	} else {
		gaps = j.Gaps(h, at)
	}
	for _, g := range gaps {
		out.Open = append(out.Open, g.Name())
	}
	return out
}

// handRemarks adds the remarks, by number.
func (j *Job) handRemarks(d *Handed) {
	reply := func(x *Reply) *handedReply {
		if x == nil {
			return nil
		}
		return &handedReply{x.Seq, x.By, x.Text}
	}
	for _, r := range j.Remarks {
		h := handedRemark{Entry: r.Seq, By: r.By, Check: r.Check, Remarked: r.Remarked, Stands: j.Stands(r), Answer: reply(r.Answer), Withdrawn: reply(r.Withdrawn)}
		if r.Sort == RemarkOrder {
			h.Met = j.Met(r)
		}
		d.Remarks = append(d.Remarks, h)
	}
}
