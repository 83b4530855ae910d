package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// AmendmentLine is an amendment of the plan as a handover shows it.
type AmendmentLine struct {
	Entry                     int
	By, When, Why, File, Hash string
	Accepted                  string // who accepted it, or that nobody did
	Open                      bool   // nobody did
	Differs                   []string
}

func (j *Job) amendmentLines() []AmendmentLine {
	var out []AmendmentLine
	for _, a := range j.Amendments {
		out = append(out, AmendmentLine{Entry: a.Seq, By: j.PersonName(a.By), When: Stamp(a.At), Why: a.Why, File: a.PlanFile, Hash: a.PlanHash,
			Accepted: j.acceptedWords(a), Open: a.Accepted == nil || a.Void != "", Differs: DiffersWords(a.Differs)})
	}
	return out
}

// TakenOutLine is a check that an amendment took out of the plan, with its attempts.
type TakenOutLine struct {
	Check, Title, Kind string
	Entry              int // the amendment
	Attempts           []string
}

func (j *Job) takenOutLines() []TakenOutLine {
	var out []TakenOutLine
	for _, s := range j.TakenOut {
		line := TakenOutLine{Check: s.Check.ID, Title: s.Check.Title, Kind: s.Check.Kind.Name, Entry: s.Out}
		for _, a := range s.Attempts {
			p := j.attemptPage(s, a)
			words := fmt.Sprintf("attempt %d by %s, %s: ", p.Number, p.By, p.When)
			for i, r := range p.Readings {
				if i > 0 {
					words += ", "
				}
				words += r.Label + " " + r.Typed
			}
			if a.Judged {
				words += "; " + p.Verdict.String()
				if why := a.Told.Why(); why != "" {
					words += ": " + why
				}
			} else {
				words += "; not judged"
			}
			line.Attempts = append(line.Attempts, words)
		}
		out = append(out, line)
	}
	return out
}

// acceptedWords tell how an amendment stands.
func (j *Job) acceptedWords(a *Amendment) string {
	switch {
	case a.Void != "":
		return "no command takes it: " + a.Void
	case a.Accepted == nil:
		return "not accepted by an engineer"
	case a.Accepted.Seq == a.Seq:
		return "made by an engineer"
	}
	return fmt.Sprintf("accepted by %s, %s: %s; %s", j.PersonName(a.Accepted.By), Stamp(a.Accepted.At), a.Accepted.Reason, j.Proof(a.Accepted.Seq).Words())
}

// amendmentsAgainst are the amendments that nobody has decided.
func (j *Job) amendmentsAgainst() []string {
	var out []string
	for _, a := range j.Amendments {
		if a.Accepted == nil || a.Void != "" || j.Proof(a.Accepted.Seq).Unlisted != "" {
			out = append(out, fmt.Sprintf("the plan was amended by %s (entry %d): %s", j.PersonName(a.By), a.Seq, j.acceptedWords(a)))
		}
	}
	return out
}

func (j *Job) amendmentFlags() []Flag {
	var out []Flag
	for _, a := range j.Amendments {
		out = append(out, Flag{Seq: a.Seq, What: FlagAmended, Open: a.Accepted == nil || a.Void != "",
			Text: fmt.Sprintf("by %s: %s; %s; %s", j.PersonName(a.By), a.Why, strings.Join(DiffersWords(a.Differs), "; "), j.acceptedWords(a))})
	}
	for _, s := range j.TakenOut {
		if n := len(s.Attempts); n > 0 {
			out = append(out, Flag{Seq: s.Out, Check: s.Check.ID, What: FlagAmended, Text: fmt.Sprintf("taken out of the plan, with %s on record", Count(n, "attempt", "attempts"))})
		}
	}
	return out
}

// DiffersWords tell each difference of two versions of a plan in a line.
func DiffersWords(all []plan.Difference) []string {
	var out []string
	for _, d := range all {
		was, is := CutRunes(Flat(d.Was), 160), CutRunes(Flat(d.Is), 160)
		switch {
		case was == "":
			out = append(out, d.Path+": new: "+is)
		case is == "":
			out = append(out, d.Path+": taken out: "+was)
		default:
			out = append(out, d.Path+": was "+was+", is "+is)
		}
	}
	return out
}

func (j *Job) concessionLine(s *State, c *Concession) ConcessionLine {
	line := ConcessionLine{Check: s.Check.ID, Title: s.Check.Title, Engineer: j.PersonName(c.Engineer), When: Stamp(c.At),
		Verdict: c.Verdict.String(), Reason: c.Reason, Of: c.Of(), Proof: j.Proof(c.Seq).Words()}
	if c.Skip == 0 {
		line.Finding = s.Attempts[c.Attempt-1].Told.Why()
	} else if skip, err := Decode[Skipped](j.Counted()[c.Skip-1]); err == nil {
		line.Finding = "skipped: " + skip.Why
	}
	return line
}

func (j *Job) holdLine(h *plan.Hold, now time.Time) HoldLine {
	line := HoldLine{ID: h.ID, Action: h.Action, Follows: h.Named()}
	if s, ok := j.Steps[h.ID]; ok {
		line.Taken, line.By, line.Did, line.Open = Stamp(s.Taken), j.PersonName(s.By), j.didWords(s), s.Open
		line.Accepted = j.acceptedFor(h, s.Seq)
		return line
	}
	line.Accepted = j.acceptedFor(h, j.Head().Seq)
	line.Open = j.Gaps(h, now)
	return line
}

// acceptedFor tells what a hold point needs that was accepted up to an entry, and whose key
// says so.
func (j *Job) acceptedFor(h *plan.Hold, upto int) string {
	var out []string
	for _, id := range h.Needs {
		if s := j.State(id); s.IsConceded() && s.Concession.Seq <= upto {
			out = append(out, fmt.Sprintf("%s accepted by %s, %s", id, j.PersonName(s.Concession.Engineer), j.Proof(s.Concession.Seq).Words()))
		}
	}
	return strings.Join(out, "; ")
}

// HoldLine is what became of a hold point.
type HoldLine struct {
	ID, Action, Taken, By string
	Follows               string // as of a step
	Did                   string // what else was recorded with it
	Accepted              string // what it needs that was accepted up to then, by whom and with whose key
	Open                  []Gap  // what it waits for; once taken, what it waited for then
}

// IdentityLine is one thing that tells what a handover is about: a label with a text.
type IdentityLine struct {
	Key   string // where it stands in the plan, such as client.address; of plant, such as transformer.serial
	Of    string // the piece of plant it belongs to, "" for the whole handover
	Label string
	Text  string // never empty
}

// identityLines list what the plan in force says of the papers and of every piece of
// plant, in an order that does not change: the paper itself, the client, who tests, the
// site; then transformers, incomers and boards as the plan has them.
func (j *Job) identityLines(issued time.Time) []IdentityLine {
	p, of := j.Plan, ""
	var out []IdentityLine
	say := func(key, label, text string) {
		if text != "" {
			out = append(out, IdentityLine{key, of, label, text})
		}
	}
	firm := func(key, label string, f plan.Firm) {
		say(key+".name", label, f.Name)
		say(key+".address", label+", address", f.Address)
		say(key+".contact", label+", contact", f.Reached())
	}
	say("title", "Title", p.Title)
	say("document.number", "Document number", p.Document.Number)
	say("document.revision", "Revision", p.Document.Revision)
	say("issued", "Date of issue", issued.Format(time.DateOnly))
	firm("client", "Client", p.Client)
	firm("tested_by", "Tested by", p.TestedBy)
	say("site", "Site", p.Site)
	say("site_address", "Address of the site", p.Address)
	say("work", "Work", p.Work)
	say("order", "Order", p.Order)
	say("method_statement", "Method statement", p.Method)
	for _, x := range p.Used() {
		say("procedure."+x.ID, "Procedure", j.procedureWords(x))
	}
	say("permit", "Permit", p.Permit)
	say("drawing", "Drawing", p.DrawingOf())
	plate := func(sort string, x plan.Plate) {
		say(sort+".maker", "Maker", x.Maker)
		say(sort+".serial", "Serial number", x.Serial)
		say(sort+".year", "Year of make", x.Year)
		say(sort+".asset", "Asset number", x.Asset)
	}
	for _, t := range p.Plant.Transformers {
		of = t.ID
		say("transformer.name", "Transformer", OrID(t.Name, t.ID))
		plate("transformer", t.Plate)
		say("transformer.rating", "Rating", amount(float64(t.Rating)/1e3, "kVA"))
		say("transformer.volts", "Rated volts", amount(float64(t.HV)/1e3, "kV")+" / "+amount(float64(t.LV), "V"))
		say("transformer.group", "Vector group", t.Group)
		say("transformer.impedance", "Impedance", amount(float64(t.Impedance), "%"))
		say("transformer.tap", "Tap before the work", t.Tap)
	}
	for _, x := range p.Plant.Incomers {
		of = x.ID
		say("incomer.name", "Incomer", OrID(x.Name, x.ID))
		plate("incomer", x.Plate)
		say("incomer.rating", "Rating", amount(float64(x.Rating)/1e3, "kVA"))
		say("incomer.volts", "Rated volts", amount(float64(x.Rated), "V"))
	}
	for _, b := range p.Plant.Boards {
		of = b.ID
		say("board.name", "Board", OrID(b.Name, b.ID))
		plate("board", b.Plate)
		say("board.volts", "Rated volts", amount(float64(b.Nominal), "V"))
	}
	return out
}

// OrID names a thing by its name with its id, by its id alone where it has none.
func OrID(name, id string) string {
	if name == "" || name == id {
		return id
	}
	return id + ", " + name
}

// Newest is the newest attempt that was judged, nil when there is none.
func (p CheckPage) Newest() *AttemptPage {
	for i := len(p.Attempts) - 1; i >= 0; i-- {
		if p.Attempts[i].Judged {
			return &p.Attempts[i]
		}
	}
	return nil
}

// WorksOut tells whether an attempt has values to work out.
func (a AttemptPage) WorksOut() bool { return a.Finding != nil && len(a.Derived) > 0 }

// MeterLine is an instrument with where it was used.
type MeterLine struct {
	plan.Meter
	DueText   string
	InDate    string
	UsedIn    []string
	Accuracy  []string
	Certified string
}

// NoteLine is words recorded during the job.
type NoteLine struct {
	Entry                 int
	When, By, Check, Text string
}

// LogLine is one entry.
type LogLine struct {
	Seq                         int
	When, By, Kind, Check, Text string
	Hash                        string
}

// entryOf is the entry that gave an answer last.
func entryOf(a *Attempt, key string) int {
	seq := 0
	for _, l := range a.Lines {
		if l.Has(key) {
			seq = l.Seq
		}
	}
	for _, c := range a.Corrections {
		if c.Key == key {
			seq = c.Seq
		}
	}
	return seq
}

// TrendJobs is how many earlier jobs a trend shows at most: what a printed page has
// room for beside this one.
const TrendJobs = 5

// Trend is how the judged values of a check came out in earlier jobs on the same
// plant and in this one, oldest first. What is missing in a job is NaN.
type Trend struct {
	Jobs  []TrendJob
	Lines []TrendLine
}

// TrendJob is a job of a trend.
type TrendJob struct{ Job, Day string }

// TrendLine is one judged value over the jobs.
type TrendLine struct {
	Key        string // of the value
	Name, Unit string
	Limit      checks.Limit // of this job; an earlier one may have had another
	Values     []float64
	Verdicts   []checks.Verdict // as judged then, against the limits of then
}

// SamePlant tells whether two plans are for the same plant: made from one plan, or
// for one site.
func SamePlant(a, b *plan.Plan) bool {
	return a.ID == b.ID || a.Site != "" && a.Site == b.Site
}

// trend follows the judged values of a check back through earlier jobs. The check
// there must have the same id, kind, title and place, so that the T1 of a site is not
// compared with its T2. It is nil when no earlier job judged any of the values.
func (j *Job) trend(s *State, earlier []*Job) *Trend {
	a := s.LastJudged()
	if a == nil {
		return nil
	}
	var past []*State
	t := &Trend{}
	for _, e := range earlier {
		if was := e.State(s.Check.ID); was != nil && was.LastJudged() != nil && SamePlant(e.Plan, j.Plan) && sameCheck(was.Check, s.Check) {
			past = append(past, was)
			t.Jobs = append(t.Jobs, TrendJob{e.ID, e.OpenedAt.Format("2006-01-02")})
		}
	}
	if n := len(past); n > TrendJobs {
		past, t.Jobs = past[n-TrendJobs:], t.Jobs[n-TrendJobs:]
	}
	past = append(past, s)
	t.Jobs = append(t.Jobs, TrendJob{j.ID, j.OpenedAt.Format("2006-01-02")})
	for _, d := range a.Finding.Derived {
		if l, ok := trendLine(d, past); ok {
			t.Lines = append(t.Lines, l)
		}
	}
	if len(t.Lines) == 0 {
		return nil
	}
	return t
}

func sameCheck(a, b *plan.Check) bool {
	return a.Kind.Name == b.Kind.Name && a.Title == b.Title && a.At == b.At
}

// trendLine is a value over the states; ok is false for one that is not judged, or
// that no earlier state has.
func trendLine(d checks.Derived, states []*State) (l TrendLine, ok bool) {
	if d.Limit == nil {
		return l, false
	}
	l = TrendLine{Key: d.Key, Name: d.Name, Unit: d.Unit, Limit: *d.Limit}
	earlier := 0
	for _, s := range states {
		v, has := s.LastJudged().Finding.Value(d.Key)
		if !has || v.Unit != d.Unit || !quantity.Finite(v.Value) {
			v.Value, v.Verdict = math.NaN(), checks.Missing
		} else if s != states[len(states)-1] {
			earlier++
		}
		l.Values, l.Verdicts = append(l.Values, v.Value), append(l.Verdicts, v.Verdict)
	}
	return l, earlier > 0
}
