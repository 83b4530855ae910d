package export

import (
	"cmp"
	"iter"
	"time"

	"handback/report"
	"handback/report/accepted"
)

// AcceptanceRow is what somebody accepted, and what shows who did.
type AcceptanceRow struct {
	Job       string     `json:"job" title:"job"`
	Entry     int        `json:"entry" title:"entry that accepts it"`
	Accepts   string     `json:"accepts" title:"what is accepted: finding, skipped, found or plan"`
	Of        string     `json:"of" title:"id of the check, the device or the plan"`
	Attempt   *int       `json:"attempt,omitempty" title:"attempt that is accepted"`
	By        string     `json:"by" title:"who accepted it"`
	Role      string     `json:"role,omitempty" title:"their role in the plan"`
	Reason    string     `json:"reason" title:"why"`
	Counts    bool       `json:"counts" title:"the record takes it for an acceptance"`
	Given     string     `json:"given" title:"how: signed, telephone or unsigned"`
	Key       string     `json:"key,omitempty" title:"fingerprint of the key that signed it"`
	Open      bool       `json:"open" title:"the signature has to follow"`
	Doubt     string     `json:"doubt,omitempty" title:"why it is not shown who gave it"`
	Number    string     `json:"number,omitempty" title:"telephone number that was called"`
	Called    *time.Time `json:"called,omitempty" title:"when"`
	Words     string     `json:"words,omitempty" title:"what was read back"`
	Listened  string     `json:"listened,omitempty" title:"who listened"`
	Statement string     `json:"statement,omitempty" title:"what was signed, to the byte"`
	Signature string     `json:"signature,omitempty" title:"the signature, as ssh-keygen writes it"`
}

// How an acceptance was given.
const (
	givenSigned    = "signed"
	givenTelephone = "telephone"
	givenUnsigned  = "unsigned"
)

func acceptanceRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for _, a := range accepted.All(j) {
			r := AcceptanceRow{Job: j.ID, Entry: a.Entry, Accepts: a.Accepts, Of: a.Of, Attempt: seq(a.Attempt), By: a.Person, Role: a.Role,
				Reason: a.Reason, Counts: a.Counts, Given: givenUnsigned, Key: a.Proof.Key, Doubt: a.Proof.Doubt()}
			if s := a.Signed; s != nil {
				r.Given, r.Statement, r.Signature = givenSigned, s.Statement, s.Signature
			} else if c := a.Telephone; c != nil {
				r.Given, r.Number, r.Words, r.Listened = givenTelephone, c.Number, c.Words, c.Listened
				r.Open = a.Counts && j.State(a.Of) != nil && j.State(a.Of).Concession.Seq == a.Entry
				if at, err := time.Parse(time.RFC3339, c.Called); err == nil {
					r.Called = &at
				}
			}
			if !yield(r) {
				return
			}
		}
	}
}

// RemarkRow is what a review ordered, asked or said, and what became of it.
type RemarkRow struct {
	Job     string     `json:"job" title:"job"`
	Remark  int        `json:"remark" title:"its number in the job, from 1"`
	Sort    string     `json:"sort" title:"order, question or comment"`
	Check   string     `json:"check,omitempty" title:"check it is about"`
	Step    string     `json:"step,omitempty" title:"step it is about"`
	Attempt *int       `json:"attempt,omitempty" title:"attempt that an order wants repeated"`
	By      string     `json:"by" title:"who made it"`
	At      time.Time  `json:"at" title:"when"`
	Text    string     `json:"text" title:"what was ordered, asked or said"`
	Stands  bool       `json:"stands" title:"it waits to be met or answered"`
	Became  string     `json:"became,omitempty" title:"repeated, answered or withdrawn"`
	Reply   string     `json:"reply,omitempty" title:"the answer, or why it was withdrawn"`
	ReplyBy string     `json:"reply_by,omitempty" title:"who answered or withdrew it"`
	ReplyAt *time.Time `json:"reply_at,omitempty" title:"when"`
	Met     *int       `json:"met,omitempty" title:"entry that answered, repeated or withdrew it"`
	About   *int       `json:"about,omitempty" title:"entry that gave rise to it"`
	Entry   int        `json:"entry" title:"entry that made it"`
}

// What became of a remark.
const (
	becameRepeated  = "repeated"
	becameAnswered  = "answered"
	becameWithdrawn = "withdrawn"
)

func remarkRows(j *report.Job, _ time.Time) iter.Seq[any] {
	return func(yield func(any) bool) {
		for _, m := range j.Remarks {
			r := RemarkRow{Job: j.ID, Remark: m.Remark, Sort: m.Sort, Check: m.Check, Step: m.Step, Attempt: seq(m.Attempt), By: m.By, At: m.At,
				Text: m.Text, Stands: j.Stands(m), About: seq(m.About), Entry: m.Seq}
			reply := cmp.Or(m.Withdrawn, m.Answer)
			switch {
			case reply != nil:
				r.Became, r.Reply, r.ReplyBy, r.ReplyAt, r.Met = becameAnswered, reply.Text, reply.By, &reply.At, seq(reply.Seq)
				if m.Withdrawn != nil {
					r.Became = becameWithdrawn
				}
			case m.Sort == report.RemarkOrder && j.Met(m) > 0:
				r.Became, r.Met = becameRepeated, seq(j.Met(m))
			}
			if !yield(r) {
				return
			}
		}
	}
}
