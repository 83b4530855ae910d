package report

import (
	"handback/checks"
	"handback/records"
)

// Kinds of entries. Each one's data is the type of the same name.
const (
	KindOpen    = "open"    // a plan was put to work
	KindRead    = "read"    // one accepted line of answers
	KindJudge   = "judge"   // an attempt was completed and judged
	KindCorrect = "correct" // an answer of a judged attempt was put right
	KindSkip    = "skip"    // a check was left out for now, with the reason
	KindNote    = "note"    // words about the job or a check
	KindConcede = "concede" // an engineer accepted a finding that did not pass
	KindStep    = "step"    // the step behind a hold point was taken
	KindUndo    = "undo"    // the step behind a hold point was undone
	KindBad     = "bad"     // an instrument was found bad after it was used
	KindSign    = "sign"    // a person signed the job up to the entry before

	KindAttach = records.KindAttach // a file was attached to the job or a check
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

// Signed holds a statement of records.Statement and its signature.
type Signed struct {
	Statement string `json:"statement"` // the exact bytes that were signed
	Signature string `json:"signature"` // SSHSIG in its armour
}

// decode reads an entry's data into its type.
func decode[T any](e records.Entry) (T, error) {
	var v T
	err := records.DecodeStrict(e.Data, &v)
	return v, err
}
