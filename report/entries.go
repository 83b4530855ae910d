package report

import (
	"cmp"
	"slices"

	"handback/checks"
	"handback/checks/network"
	"handback/records/chain"
	"handback/report/fork"
)

// Kinds of entries. Each one's data is the type of the same name.
const (
	EntryOpen     = "open"     // a plan was put to work
	EntryRead     = "read"     // one accepted line of answers
	EntryJudge    = "judge"    // an attempt was completed and judged
	EntryCorrect  = "correct"  // an answer of a judged attempt was put right
	EntrySkip     = "skip"     // a check was left out for now, with the reason
	EntryNote     = "note"     // words about the job or a check
	EntryConcede  = "concede"  // an engineer accepted a finding that did not pass
	EntryStep     = "step"     // a step was done, behind a hold point or a plain one
	EntryUndo     = "undo"     // a step was undone
	EntryLeft     = "left"     // a plain step is not done, with the reason
	EntryFound    = "found"    // a device was found to stand otherwise than recorded
	EntryBad      = "bad"      // an instrument was found bad after it was used
	EntryDefect   = "defect"   // a numbered open point was raised
	EntryClose    = "close"    // one was closed, with what was done
	EntryAmend    = "amend"    // another version of the plan was put in force
	EntryAccept   = "accept"   // an engineer accepted the plan as it was amended
	EntryRemark   = "remark"   // an engineer who reviewed the job ordered a repeat, asked or said something
	EntryAnswer   = "answer"   // a question of a review was answered
	EntryWithdraw = "withdraw" // an order or a question was taken back
	EntryReview   = "review"   // an engineer looked at points of the job
	EntrySign     = "sign"     // a person signed the job up to the entry before

	EntryAttach = chain.KindAttach // a file was attached to the job or a check
	EntryAdopt  = fork.Adopt       // an entry of another continuation was adopted: fork.Adopted
	EntryJoin   = fork.Join        // another continuation was joined: fork.Joined
)

// Opening is what a job is opened with; the book adds the plan's hash and nonce.
type Opening struct {
	Title    string `json:"title"`
	PlanFile string `json:"plan_file"`
	Program  string `json:"program"`

	// Acceptances is AcceptancesSigned where the plan allows no unsigned ones; a job opened
	// before acceptances were signed has none.
	Acceptances string `json:"acceptances,omitempty"`
}

// AcceptancesSigned says that nothing is accepted in a job without a signature.
const AcceptancesSigned = "signed"

// Opened is the data of the first entry.
type Opened struct {
	Title    string `json:"title"`
	PlanFile string `json:"plan_file"`
	PlanHash string `json:"plan_hash"`
	Program  string `json:"program"`
	Nonce    string `json:"nonce"`

	Acceptances string `json:"acceptances,omitempty"`
}

// Read is one accepted line.
type Read struct {
	Attempt  int            `json:"attempt"`
	Answers  checks.Answers `json:"answers"`
	Why      string         `json:"why,omitempty"`       // why this attempt repeats one before
	PastHold string         `json:"past_hold,omitempty"` // why it was read behind a hold that stood
}

// Judged is what an attempt came to when it was judged.
type Judged struct {
	Attempt int                `json:"attempt"`
	Verdict checks.Verdict     `json:"verdict"`
	Stop    *Stopped           `json:"stop,omitempty"`
	Reasons []Reason           `json:"reasons"`
	Values  map[string]float64 `json:"values"`
	Because string             `json:"because,omitempty"` // why it was judged again
}

// Corrected puts answers of a judged attempt right.
type Corrected struct {
	Attempt int            `json:"attempt"`
	Answers checks.Answers `json:"answers"`
	Why     string         `json:"why"`
}

// Skipped leaves a check out for now.
type Skipped struct {
	Why string `json:"why"`
}

// Noted is words.
type Noted struct {
	Text string `json:"text"`
}

// Conceded accepts a finding that did not pass.
type Conceded struct {
	Attempt  int            `json:"attempt"`
	Engineer string         `json:"engineer"` // id in the plan
	Verdict  checks.Verdict `json:"verdict"`
	Stop     string         `json:"stop,omitempty"` // code of the stop that stood
	Reason   string         `json:"reason"`

	// Skip is the entry of the skip that is accepted as not done; Attempt is 0 then.
	Skip int `json:"skip,omitempty"`

	// Found is the entry of a device found otherwise that is accepted as it is; the entry
	// is of no check then.
	Found int `json:"found,omitempty"`

	Signed    *Signed     `json:"signed,omitempty"`    // the engineer's chain.Acceptance, signed
	Telephone *Telephoned `json:"telephone,omitempty"` // how the engineer gave it, until the signature follows
}

// Telephoned says how an engineer gave an acceptance by telephone. Who makes the entry
// called.
type Telephoned struct {
	Number   string `json:"number"`
	Called   string `json:"called"`   // RFC 3339
	Words    string `json:"words"`    // as they were read back
	Listened string `json:"listened"` // id of the second person
}

// Stepped says that a step was done, behind a hold point or a plain one. Who makes the
// entry did it. A person is an id of the plan, or a name in words for one outside it.
type Stepped struct {
	Hold       string             `json:"hold,omitempty"` // id of the hold point
	Step       string             `json:"step,omitempty"` // id of a plain step
	Action     string             `json:"action"`
	Taken      string             `json:"taken"`                // RFC 3339
	Instructed string             `json:"instructed,omitempty"` // who had it done
	Confirmed  string             `json:"confirmed,omitempty"`  // who saw that it was, a second person
	Lock       string             `json:"lock,omitempty"`       // number as it is, where the plan has another
	Key        string             `json:"key,omitempty"`        // likewise
	Overrides  []network.Override `json:"overrides,omitempty"`  // rules that somebody took upon them to override
}

// ID is the id of the hold point or the plain step.
func (s Stepped) ID() string { return cmp.Or(s.Hold, s.Step) }

// Undone says that a step was undone: opened again, made dead again.
type Undone struct {
	Hold string `json:"hold,omitempty"`
	Step string `json:"step,omitempty"`
	Done string `json:"done"` // RFC 3339
	Why  string `json:"why"`

	Overrides []network.Override `json:"overrides,omitempty"`
}

// ID is the id of the hold point or the plain step.
func (u Undone) ID() string { return cmp.Or(u.Hold, u.Step) }

// NotDone says that a plain step is left: the steps below it may go on without it, hold
// points below it wait for it.
type NotDone struct {
	Step string `json:"step"`
	Why  string `json:"why"`
}

// FoundSo says how a device was found to stand, whatever the record has.
type FoundSo struct {
	Device   string   `json:"device"`
	Position string   `json:"position"`        // open, closed or unknown
	Place    string   `json:"place,omitempty"` // service, test or withdrawn; as recorded when not given
	Locks    []string `json:"locks"`
	Seen     string   `json:"seen"` // RFC 3339
	Why      string   `json:"why"`
}

func (f FoundSo) standing() network.Standing {
	return network.Standing{Pos: network.Position(f.Position), Place: network.Place(f.Place), Locks: f.Locks}
}

// FoundBad says that an instrument was found bad after it was used.
type FoundBad struct {
	Serial string `json:"serial"`
	Since  string `json:"since"` // RFC 3339: its readings from then on do not count
	Why    string `json:"why"`
}

// Raised is a numbered open point.
type Raised struct {
	Defect int    `json:"defect"` // its number in the job, from 1
	What   string `json:"what"`
	Where  string `json:"where,omitempty"`
	Owner  string `json:"owner,omitempty"` // who is to put it right
	Due    string `json:"due,omitempty"`   // last day, such as 2026-06-30
	Holds  string `json:"holds,omitempty"` // the step that waits for it
}

// Closed says what was done about a defect.
type Closed struct {
	Defect int    `json:"defect"`
	Done   string `json:"done"`
}

// Amended puts another version of the plan in force, from this entry on.
type Amended struct {
	Why      string `json:"why"`
	PlanFile string `json:"plan_file"`
	PlanHash string `json:"plan_hash"` // SHA-256 of the text
	Plan     string `json:"plan"`      // the whole of it, as it was read
}

// AcceptedPlan says that the plan in force is to be worked by.
type AcceptedPlan struct {
	PlanHash string `json:"plan_hash"`
	Reason   string `json:"reason"`

	Signed *Signed `json:"signed,omitempty"` // the chain.Acceptance of who accepts it, signed
}

// Remarked is what an engineer ordered, asked or said of a check, which the entry names, of
// a step, or of the job.
type Remarked struct {
	Remark  int    `json:"remark"`            // its number in the job, from 1
	Sort    string `json:"sort"`              // order, question or comment
	Step    string `json:"step,omitempty"`    // id of a hold point or a plain step
	Attempt int    `json:"attempt,omitempty"` // that an order wants repeated
	About   int    `json:"about,omitempty"`   // the entry that gave rise to it
	Text    string `json:"text"`
}

// Answered answers a question.
type Answered struct {
	Remark int    `json:"remark"`
	Text   string `json:"text"`
}

// Withdrawn takes an order or a question back.
type Withdrawn struct {
	Remark int    `json:"remark"`
	Why    string `json:"why"`
}

// Reviewed names points that were looked at, and left as they are or decided.
type Reviewed struct {
	Points []Looked `json:"points"`
}

// Looked names a point as flags do: what it is, on which entry it stands, and whether it
// was open then.
type Looked struct {
	What  string `json:"what"`
	Entry int    `json:"entry"`
	Check string `json:"check,omitempty"`
	Open  bool   `json:"open,omitempty"`
}

// Signed holds a statement of chain.Statement, or an acceptance of chain.Acceptance, and its
// signature.
type Signed struct {
	Statement string `json:"statement"` // the exact bytes that were signed
	Signature string `json:"signature"` // SSHSIG in its armour
}

// Decode reads an entry's data into its type.
func Decode[T any](e chain.Entry) (T, error) {
	var v T
	err := chain.DecodeStrict(e.Data, &v)
	return v, err
}

// StepOf is the step that an entry is about, "" for none.
func StepOf(e chain.Entry) string {
	switch e.Kind {
	case EntryStep:
		d, _ := Decode[Stepped](e)
		return d.ID()
	case EntryUndo:
		d, _ := Decode[Undone](e)
		return d.ID()
	case EntryLeft:
		d, _ := Decode[NotDone](e)
		return d.Step
	}
	return ""
}

// dataOf is an entry's data, decoded once: the fold takes up the entries, and the rules look
// at them again. Of one that adopts another, what it adopts is kept: it has its number and
// hash here.
func dataOf[T any](j *Job, e chain.Entry) (T, error) {
	at := e.Seq - 1
	ours := at >= 0 && at < len(j.Entries) && j.Entries[at].Hash == e.Hash && e.Kind != EntryAdopt
	if ours && at < len(j.data) {
		if v, ok := j.data[at].(T); ok {
			return v, nil
		}
	}
	v, err := Decode[T](e)
	if ours && err == nil {
		j.data = append(j.data, make([]any, len(j.Entries)-len(j.data))...)
		j.data[at] = v
	}
	return v, err
}

// keepData keeps other data of an entry than were decoded.
func (j *Job) keepData(e chain.Entry, data any) {
	if at := e.Seq - 1; at >= 0 && at < len(j.data) {
		j.data[at] = data
	}
}

// line is what an entry read.
func (r *ruleBook) line(e chain.Entry, attempt int) Entered {
	for _, s := range r.states(e.Check) {
		for _, a := range s.Attempts {
			if i := slices.IndexFunc(a.Lines, func(l Entered) bool { return l.Seq == e.Seq }); i >= 0 && a.Number == attempt {
				return a.Lines[i]
			}
		}
	}
	return Entered{}
}

// answers reads what was typed once more and holds it against what is stored.
func (r *ruleBook) answers(e chain.Entry, answers []Keyed) {
	for _, k := range answers {
		key, a := k.Key, k.Answer
		f, ok := r.field(e.Check, key)
		if !ok {
			continue // not asked any more, with the answers there are now: nothing is judged by it
		}
		if why := r.otherwise(f, a, e.At); why != "" {
			r.found(e, "%s: %.80q was typed, %s", key, a.Typed, why)
		}
	}
}

// field is what a check asks under a key: with the answers there are now, or with those of
// one of its attempts, as any version of the plan asks it.
func (r *ruleBook) field(check, key string) (checks.Field, bool) {
	a := r.form[check]
	if a == nil {
		a = &asked{from: r.inputs(check)}
		r.form[check] = a
	}
	for _, form := range a.forms {
		if f, ok := checks.FieldNamed(form, key); ok {
			return f, true
		}
	}
	for len(a.from) > 0 {
		form := a.from[0].Form()
		a.forms, a.from = append(a.forms, form), a.from[1:]
		if f, ok := checks.FieldNamed(form, key); ok {
			return f, true
		}
	}
	return checks.Field{}, false
}

// asked is what a check asks, as far as it was looked at, and what more may tell it.
type asked struct {
	forms [][]checks.Field
	from  []checks.Input
}

func (r *ruleBook) inputs(check string) (out []checks.Input) {
	for _, s := range r.states(check) {
		var now checks.Input
		if s.Out == 0 {
			now = r.job.Input(s.Check, r.job.Head().At)
			out = append(out, now)
		}
		for _, a := range s.Attempts {
			if s.Out == 0 {
				now.Answers = a.Answers
				out = append(out, now)
			}
			out = append(out, r.job.attemptInput(s, a))
		}
	}
	return out
}
