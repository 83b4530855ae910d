package report

import (
	"handback/checks"
	"handback/records/chain"
)

// Kinds of entries. Each one's data is the type of the same name.
const (
	EntryOpen    = "open"    // a plan was put to work
	EntryRead    = "read"    // one accepted line of answers
	EntryJudge   = "judge"   // an attempt was completed and judged
	EntryCorrect = "correct" // an answer of a judged attempt was put right
	EntrySkip    = "skip"    // a check was left out for now, with the reason
	EntryNote    = "note"    // words about the job or a check
	EntryConcede = "concede" // an engineer accepted a finding that did not pass
	EntryStep    = "step"    // the step behind a hold point was taken
	EntryUndo    = "undo"    // the step behind a hold point was undone
	EntryBad     = "bad"     // an instrument was found bad after it was used
	EntryDefect  = "defect"  // a numbered open point was raised
	EntryClose   = "close"   // one was closed, with what was done
	EntryAmend   = "amend"   // another version of the plan was put in force
	EntryAccept  = "accept"  // an engineer accepted the plan as it was amended
	EntrySign    = "sign"    // a person signed the job up to the entry before

	EntryAttach = chain.KindAttach // a file was attached to the job or a check
)

// Opening is what a job is opened with; the book adds the plan's hash and nonce.
type Opening struct {
	Title    string `json:"title"`
	PlanFile string `json:"plan_file"`
	Program  string `json:"program"`
}

// Opened is the data of the first entry.
type Opened struct {
	Title    string `json:"title"`
	PlanFile string `json:"plan_file"`
	PlanHash string `json:"plan_hash"`
	Program  string `json:"program"`
	Nonce    string `json:"nonce"`
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
}

// Stepped says that the step behind a hold point was taken.
type Stepped struct {
	Hold   string `json:"hold"`
	Action string `json:"action"`
	Taken  string `json:"taken"` // RFC 3339
}

// Undone says that the step behind a hold point was undone: opened again, made dead
// again.
type Undone struct {
	Hold string `json:"hold"`
	Done string `json:"done"` // RFC 3339
	Why  string `json:"why"`
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
	Holds  string `json:"holds,omitempty"` // the hold point that waits for it
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
}

// Signed holds a statement of chain.Statement and its signature.
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
