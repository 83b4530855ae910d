package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
)

// Sorts of remarks.
const (
	RemarkOrder    = "order"    // its check or step is taken again before what lies below goes on
	RemarkQuestion = "question" // what lies below waits for the answer
	RemarkComment  = "comment"  // words alone
)

// Remark is what an engineer who reviewed the job ordered, asked or said.
type Remark struct {
	Remarked
	Seq       int
	At        time.Time
	By, Check string
	Answer    *Reply // of a question, nil until it is answered
	Withdrawn *Reply // of an order or a question, nil while it stands
	Void      string // why no command would have taken it, "" when one would
}

// Reply is an answer to a question, or the reason why a remark was taken back.
type Reply struct {
	Seq      int
	At       time.Time
	By, Text string
}

// Remark finds a remark by its number, nil when there is none.
func (j *Job) Remark(number int) *Remark {
	if number < 1 || number > len(j.Remarks) {
		return nil
	}
	return j.Remarks[number-1]
}

// Name is what a remark is called: its sort and its number.
func (r *Remark) Name() string { return r.Sort + " " + strconv.Itoa(r.Remark) }

// Place is the check or the step that a remark names, "" for the job.
func (r *Remark) Place() string { return r.Check + r.Step }

// MayReview says why a person may not order, ask or say anything as one who reviews the
// job, nil when they may: an engineer of the plan as it was last decided.
func (j *Job) MayReview(by string) error {
	_, err := j.engineer(by, "is ROLE in the plan: a review is an engineer's")
	return err
}

// MayRemark says why a person cannot make a remark, nil when they can.
func (j *Job) MayRemark(by, check string, r Remarked) error {
	if err := j.MayReview(by); err != nil {
		return err
	}
	switch {
	case check != "" && r.Step != "":
		return fmt.Errorf("check %s and step %s: a remark names one of them", check, r.Step)
	case check != "" && j.State(check) == nil:
		return fmt.Errorf("check %q is not in the plan", check)
	case r.Step != "" && j.Plan.Step(r.Step) == nil:
		return fmt.Errorf("step %q is not in the plan", r.Step)
	case r.About < 0 || r.About > len(j.Entries):
		return fmt.Errorf("entry %d, which it is about, is not there", r.About)
	case r.Sort == RemarkOrder:
		return j.mayOrder(check, r)
	case r.Sort != RemarkQuestion && r.Sort != RemarkComment:
		return fmt.Errorf("%q is no sort of remark", r.Sort)
	case blank(r.Text):
		return fmt.Errorf("a %s needs words", r.Sort)
	}
	return nil
}

// mayOrder says why a repeat of a check or a step cannot be ordered, nil when it can.
func (j *Job) mayOrder(check string, r Remarked) error {
	if check == "" && r.Step == "" {
		return fmt.Errorf("an order to repeat names a check or a step")
	}
	for _, o := range j.Remarks {
		if o.Sort == RemarkOrder && o.Check == check && o.Step == r.Step && j.Stands(o) {
			return fmt.Errorf("%s orders that already (entry %d)", o.Name(), o.Seq)
		}
	}
	if check != "" {
		switch s := j.State(check); {
		case s.LastJudged() == nil && s.Skip == nil:
			return fmt.Errorf("check %s is not judged: there is nothing to repeat", check)
		case r.Attempt != s.newest():
			return fmt.Errorf("check %s: attempt %d is not the newest that was judged", check, r.Attempt)
		}
		return plan.Reasoned(r.Text)
	}
	step := j.Plan.Step(r.Step)
	_, done := j.Steps[r.Step]
	switch {
	case !done && j.LeftNow(r.Step) == nil:
		return fmt.Errorf("the step %s was not done: there is nothing to repeat", r.Step)
	case done && j.forGood(step):
		return fmt.Errorf("%s: nothing undoes that, so that it cannot be repeated: %s", step.Action, j.instead(step))
	}
	return plan.Reasoned(r.Text)
}

// newest is the number of the newest judged attempt, 0 for none.
func (s *State) newest() int {
	if a := s.LastJudged(); a != nil {
		return a.Number
	}
	return 0
}

// NewRemark is a remark as it would be recorded next.
func (j *Job) NewRemark(sort, check, step string, about int, text string) Remarked {
	r := Remarked{Remark: len(j.Remarks) + 1, Sort: sort, Step: step, About: about, Text: text}
	if s := j.State(check); s != nil && sort == RemarkOrder {
		r.Attempt = s.newest()
	}
	return r
}

// MayAnswer says why a person cannot answer a question, nil when they can.
func (j *Job) MayAnswer(number int, by, text string) error {
	r := j.Remark(number)
	switch {
	case r == nil:
		return fmt.Errorf("there is no question %d", number)
	case r.Sort != RemarkQuestion:
		return fmt.Errorf("%s is no question", r.Name())
	case !j.Stands(r):
		return fmt.Errorf("%s waits for no answer any longer", r.Name())
	case r.By == by || sameName(j.PersonName(r.By), j.PersonName(by)):
		return fmt.Errorf("%s asked it: nobody answers a question of their own", j.PersonName(by))
	case blank(text):
		return fmt.Errorf("an answer needs words")
	}
	return nil
}

// MayWithdraw says why a person cannot take a remark back, nil when they can: whoever made
// it does, with a reason.
func (j *Job) MayWithdraw(number int, by, why string) error {
	r := j.Remark(number)
	switch {
	case r == nil:
		return fmt.Errorf("there is no order or question %d", number)
	case !j.Stands(r):
		return fmt.Errorf("%s does not stand: there is nothing to withdraw", r.Name())
	case r.By != by:
		return fmt.Errorf("%s made it: nobody else withdraws %s", j.PersonName(r.By), r.Name())
	}
	return plan.Reasoned(why)
}

// review takes up an entry of a review. One that no command writes is kept, holds nothing
// and is a fault of the record.
func (j *Job) review(e chain.Entry) error {
	fault := func(why error) string {
		if why == nil {
			return ""
		}
		j.amendFaults[e.Seq] = fmt.Sprintf("a %s that no command writes: %v", e.Kind, why)
		return why.Error()
	}
	switch e.Kind {
	case EntryRemark:
		d, err := Decode[Remarked](e)
		if err != nil {
			return err
		}
		if d.Remark != len(j.Remarks)+1 {
			return fmt.Errorf("remark %d does not follow: there are %d", d.Remark, len(j.Remarks))
		}
		r := &Remark{Remarked: d, Seq: e.Seq, At: e.At, By: e.By, Check: e.Check, Void: fault(j.MayRemark(e.By, e.Check, d))}
		j.Remarks = append(j.Remarks, r)
	case EntryAnswer:
		d, err := Decode[Answered](e)
		if err != nil {
			return err
		}
		if fault(j.MayAnswer(d.Remark, e.By, d.Text)) == "" {
			j.Remark(d.Remark).Answer = &Reply{e.Seq, e.At, e.By, d.Text}
		}
	case EntryWithdraw:
		d, err := Decode[Withdrawn](e)
		if err != nil {
			return err
		}
		if fault(j.MayWithdraw(d.Remark, e.By, d.Why)) == "" {
			j.Remark(d.Remark).Withdrawn = &Reply{e.Seq, e.At, e.By, d.Why}
		}
	case EntryReview:
		d, err := Decode[Reviewed](e)
		if err != nil {
			return err
		}
		if fault(j.MayReview(e.By)) == "" {
			j.Reviews = append(j.Reviews, Review{d, e.Seq, e.At, e.By})
		}
	}
	return nil
}

// Review is the points of a job that an engineer has looked at.
type Review struct {
	Reviewed
	Seq int
	At  time.Time
	By  string
}

// Met is the entry that met an order, 0 while none has: the first judgement of an attempt
// newer than the one it was given for, or the step done again.
func (j *Job) Met(r *Remark) int {
	for _, s := range j.all() {
		for _, a := range s.Attempts {
			if r.Step == "" && s.Check.ID == r.Check && a.Judged && a.Number > r.Attempt && a.JudgedFirst > r.Seq {
				return a.JudgedFirst
			}
		}
	}
	for _, is := range j.Done {
		if r.Step != "" && is.Did.ID() == r.Step && is.Seq > r.Seq {
			return is.Seq
		}
	}
	return 0
}

// Stands tells whether a remark still waits: an order for its repeat, a question for its
// answer.
func (j *Job) Stands(r *Remark) bool {
	switch {
	case r.Void != "" || r.Withdrawn != nil:
		return false
	case r.Sort == RemarkOrder:
		return j.Met(r) == 0
	}
	return r.Sort == RemarkQuestion && r.Answer == nil
}

// remarksAt are the remarks that stand on a check or a step, or on the job when place is "".
func (j *Job) remarksAt(place string) []*Remark {
	return slices.DeleteFunc(slices.Clone(j.Remarks), func(r *Remark) bool { return r.Place() != place || !j.Stands(r) })
}

// Ordered is the order to take a check again that stands, nil for none.
func (j *Job) Ordered(check string) *Remark {
	for _, r := range j.remarksAt(check) {
		if r.Sort == RemarkOrder && r.Check == check {
			return r
		}
	}
	return nil
}

// OrderWords tell the order to take a check again that stands, "" for none.
func (j *Job) OrderWords(check string) string {
	if r := j.Ordered(check); r != nil {
		return r.Name() + ": " + j.RemarkWords(r)
	}
	return ""
}

// RemarksAt are the remarks that stand on a check or a step, in words.
func (j *Job) RemarksAt(place string) []string {
	var out []string
	for _, r := range j.remarksAt(place) {
		out = append(out, r.Name()+": "+j.RemarkWords(r))
	}
	return out
}

// StandingRemarks are all that wait, with what they name, in words.
func (j *Job) StandingRemarks() []string {
	var out []string
	for _, r := range j.Remarks {
		if j.Stands(r) {
			out = append(out, j.PlacedWords(r))
		}
	}
	return out
}

// PlacedWords are RemarkWords with the number of the remark and what it names.
func (j *Job) PlacedWords(r *Remark) string {
	return r.Name() + ", " + cmp.Or(r.Place(), "the job") + ": " + j.RemarkWords(r)
}

// RemarkWords tell a remark: who made it, and what they want or say.
func (j *Job) RemarkWords(r *Remark) string {
	by := j.PersonName(r.By)
	switch r.Sort {
	case RemarkOrder:
		return "a repeat is ordered by " + by + ": " + r.Text
	case RemarkQuestion:
		return by + " asks: " + r.Text
	}
	return by + ": " + r.Text
}

// BecameWords tell what became of a remark, "" while nothing did.
func (j *Job) BecameWords(r *Remark) string {
	reply := func(what string, x *Reply) string {
		return fmt.Sprintf("%s %s by %s: %s", what, Stamp(x.At), j.PersonName(x.By), x.Text)
	}
	switch {
	case r.Void != "":
		return "it orders and asks nothing: " + r.Void
	case r.Withdrawn != nil:
		return reply("withdrawn", r.Withdrawn)
	case r.Answer != nil:
		return reply("answered", r.Answer)
	case r.Sort == RemarkOrder && j.Met(r) > 0:
		return fmt.Sprintf("repeated (entry %d)", j.Met(r))
	}
	return ""
}

// orderGap is that of a check whose repeat is ordered: whatever it came to, it is open.
func (j *Job) orderGap(s *State) (Gap, bool) {
	why := j.OrderWords(s.Check.ID)
	return Gap{Check: s.Check.ID, Title: s.Check.Title, Verdict: checks.Missing, Why: why}, why != ""
}

// toRepeat tells whether a check waits for the repeat that was ordered, and was neither
// begun again nor left since.
func (j *Job) toRepeat(s *State) bool {
	r := j.Ordered(s.Check.ID)
	return r != nil && (s.Skip == nil || s.Skip.Seq < r.Seq)
}

// remarkGaps are the remarks that a hold point waits for beside the checks it needs and the
// questions about its own step: those on what lies above it, on what is in the plan no
// longer, and questions about the job.
func (j *Job) remarkGaps(h *plan.Hold) []Gap {
	below := false
	free := []string{} // what lies below it, and its own step
	for _, it := range j.Plan.Items() {
		if below = below || it.Hold != nil && it.Hold.ID == h.ID; below {
			free = append(free, it.ID())
		}
	}
	var out []Gap
	for _, r := range j.Remarks {
		needed := r.Sort == RemarkOrder && slices.Contains(h.Needs, r.Check)
		if j.Stands(r) && !needed && !slices.Contains(free, r.Place()) {
			out = append(out, j.remarkGap(r))
		}
	}
	return out
}

func (j *Job) remarkGap(r *Remark) Gap {
	return Gap{Check: r.Name(), Title: cmp.Or(r.Place(), "the job"), Verdict: checks.Missing, Why: cmp.Or(r.Place(), "the job") + ": " + j.RemarkWords(r)}
}

// remarksAgainst are the remarks that stand, but for orders on checks of the plan: those
// count with their check.
func (j *Job) remarksAgainst() []string {
	var out []string
	for _, r := range j.Remarks {
		if j.Stands(r) && (r.Sort != RemarkOrder || r.Check == "" || j.State(r.Check) == nil) {
			out = append(out, j.PlacedWords(r))
		}
	}
	return out
}

// remarkFlags tell every remark, and what became of it.
func (j *Job) remarkFlags() []Flag {
	what := map[string]string{RemarkOrder: FlagOrdered, RemarkQuestion: FlagQuestion, RemarkComment: FlagComment}
	var out []Flag
	for _, r := range j.Remarks {
		out = append(out, Flag{Seq: r.Seq, Check: r.Check, What: what[r.Sort], Text: JoinWords(r.Name()+on(r.Step)+": "+j.RemarkWords(r), j.BecameWords(r)), Open: j.Stands(r)})
	}
	return out
}
