package cmd

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

type statusOptions struct {
	env  *session.Env
	job  string
	json bool
}

func newStatus(env *session.Env) *cobra.Command {
	o := &statusOptions{env: env}
	c := &cobra.Command{
		Use: "status JOB", Short: "how a job stands and what its hold points wait for", Args: exactly("JOB"),
		Long: `Tell how a job stands: each step with its verdict, what every hold point still
waits for, and whether the plant is ready for service as far as this record goes.
Findings are shown as they were recorded; all are judged again before the job is
called ready or a hold point free, and by verify. Exit status 3 when it is not ready.`,
		Example:           "  handback status t2-return-1",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runStatus, o, &o.job),
	}
	jsonFlag(c, &o.json)
	return c
}

// statusReport is how a job stands.
type statusReport struct {
	Job        string          `json:"job"`
	Identifier string          `json:"identifier"`
	Title      string          `json:"title"`
	Ready      bool            `json:"ready"`
	Verdict    string          `json:"verdict"` // the code that is signed
	Words      string          `json:"words"`
	Against    []string        `json:"against"` // what stands against it beside checks and hold points
	Entries    int             `json:"entries"`
	Head       string          `json:"head"`
	Signatures []signatureLine `json:"signatures"`
	Steps      []statusStep    `json:"steps"`
	Plant      *plantStatus    `json:"plant,omitempty"` // nil for a plan without a network
	Next       string          `json:"next"`
	Asks       []checks.Field  `json:"asks"` // what the next check has not been told yet
	waits      []string        // orders and questions that stand, in words
	Defects    []defectReport  `json:"defects"`
	Notes      []noteReport    `json:"notes"`
	Remarks    []remarkReport  `json:"remarks"` // of reviews
	Forks      []forkReport    `json:"forks,omitempty"`
}

// defectReport is a defect as it stands.
type defectReport struct {
	report.Raised
	Entry int    `json:"entry"`
	Done  string `json:"done,omitempty"` // what was done; it is open without
	late  bool
}

// noteReport is words that were recorded about the job or a check.
type noteReport struct {
	Entry int    `json:"entry"`
	Check string `json:"check,omitempty"`
	By    string `json:"by"`
	Text  string `json:"text"`
}

// asides are the defects and notes of a job.
func asides(j *report.Job, now time.Time) (defects []defectReport, notes []noteReport) {
	defects, notes = []defectReport{}, []noteReport{}
	for _, d := range j.Defects {
		r := defectReport{Raised: d.Raised, Entry: d.Seq, late: d.Overdue(now)}
		if d.Closed != nil {
			r.Done = d.Closed.Done
		}
		defects = append(defects, r)
	}
	for _, n := range j.Notes {
		notes = append(notes, noteReport{n.Seq, n.Check, n.By, n.Text})
	}
	return defects, notes
}

// printNotes tells what was noted.
func printNotes(w io.Writer, notes []noteReport) {
	for i, n := range notes {
		if i == 0 {
			fmt.Fprintln(w, "\nnotes:")
		}
		fmt.Fprintf(w, "  entry %d, %s: %s (%s)\n", n.Entry, cmp.Or(n.Check, "the job"), n.Text, n.By)
	}
}

// printDefects tells every defect, open or closed.
func printDefects(w io.Writer, defects []defectReport) {
	for i, d := range defects {
		if i == 0 {
			fmt.Fprintln(w, "\ndefects:")
		}
		state := "OPEN"
		switch {
		case d.Done != "":
			state = "closed: " + d.Done
		case d.late:
			state = "OVERDUE"
		}
		fmt.Fprintf(w, "  %d: %s; %s\n", d.Defect, (&report.Defect{Raised: d.Raised}).Words(), state)
	}
}

// plantStatus is how the plant stands by the network and the steps done.
type plantStatus struct {
	network.View
	Devices network.State `json:"devices"`
	Lines   []string      `json:"lines"` // in words
}

type statusStep struct {
	Check    string         `json:"check,omitempty"`
	Hold     string         `json:"hold,omitempty"`
	Step     string         `json:"step,omitempty"` // a plain step
	Title    string         `json:"title"`
	Verdict  checks.Verdict `json:"verdict"`
	Attempts int            `json:"attempts"`
	Conceded bool           `json:"conceded"`
	Proof    string         `json:"proof,omitempty"` // whose key signed the acceptance, or that it is unsigned
	NotDone  bool           `json:"not_done"`        // left out, and accepted so
	Taken    string         `json:"taken,omitempty"`
	Left     string         `json:"left,omitempty"`  // why a plain step is left
	Rules    []string       `json:"rules,omitempty"` // of the network, that a plain step would break now
	Why      string         `json:"why,omitempty"`
	Due      string         `json:"due,omitempty"` // when the next line of a begun check falls due
	Gaps     []report.Gap   `json:"gaps,omitempty"`
	Changes  []string       `json:"changes,omitempty"` // from the plan's baseline
}

func runStatus(ctx context.Context, o *statusOptions) error {
	s, err := session.OpenLook(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	r, err := newStatusReport(s.Job, o.env.Now())
	if err == nil && r.frees() { // not by a record alone
		if err = s.Replay(); err == nil {
			r, err = newStatusReport(s.Job, o.env.Now())
		}
	}
	if err != nil {
		return err
	}
	if r.Signatures, _, err = signatureLines(s.Job, nil); err != nil {
		return err
	}
	if o.json {
		r.Asks = s.OpenFields(r.Next)
		err = printJSON(o.env.Out, r)
	} else if err = whole(o.env.Out, func(w io.Writer) error { return printStatus(w, r) }); err == nil {
		s.SayForks()
	}
	if err == nil && !r.Ready {
		return errNotReady
	}
	return err
}

// frees tells whether somebody may act on it: the job is ready, or a step may be done that
// waits for checks.
func (r statusReport) frees() bool {
	return r.Ready || slices.ContainsFunc(r.Steps, func(s statusStep) bool { return s.Hold != "" && s.Taken == "" && len(s.Gaps) == 0 })
}

func newStatusReport(j *report.Job, now time.Time) (statusReport, error) {
	all, err := j.Standing(now)
	if err != nil {
		return statusReport{}, err
	}
	r := statusReport{Job: j.ID, Identifier: j.Identifier(), Title: j.Plan.Title, Ready: all.Ready, Verdict: all.Code, Words: all.Words, Against: all.Against, Entries: len(j.Entries), Head: j.Head().Hash, Steps: []statusStep{}}
	r.Defects, r.Notes = asides(j, now)
	r.Remarks, r.waits, r.Forks = remarks(j), j.StandingRemarks(), forks(j)
	for _, it := range j.Plan.Items() {
		if h := it.Hold; h != nil {
			r.Steps = append(r.Steps, holdStatus(j, h, now))
			continue
		}
		if it.Step != nil {
			r.Steps = append(r.Steps, plainStatus(j, it.Step, now))
			continue
		}
		s := j.State(it.Check.ID)
		line := statusStep{Check: s.Check.ID, Title: session.Place(s.Check.Title, s.Check.At), Verdict: s.Verdict(), Attempts: len(s.Attempts), Conceded: s.IsConceded(), NotDone: s.AcceptedSkip() && s.LastJudged() == nil}
		if a := s.LastJudged(); a != nil && a.Finding.Verdict != checks.Pass {
			line.Why = a.Told.Why()
		} else if why := j.Lapsed(s); why != "" {
			line.Verdict, line.Why = checks.Missing, why
		} else if s.Skip != nil {
			line.Why = "skipped: " + s.Skip.Why
		}
		if why := j.OrderWords(s.Check.ID); why != "" {
			line.Verdict, line.Why = checks.Missing, report.JoinWords(why, line.Why)
		}
		if why := j.PhotosOpen(s); why != "" {
			line.Why = report.JoinWords(line.Why, why)
			if line.Verdict == checks.Pass {
				line.Verdict = checks.Missing
			}
		}
		if s.IsConceded() {
			line.Proof = j.Proof(s.Concession.Seq).Words()
		}
		if s.AcceptedSkip() {
			line.Why += "; accepted as not done: " + s.Concession.Reason
		}
		if due, ok := j.Due(s); ok {
			line.Due = due.Format(time.RFC3339)
			line.Why = "begun; the next line falls due at " + session.ClockText(due, now)
		}
		line.Changes = changes(s)
		r.Steps = append(r.Steps, line)
	}
	if v, state, ok := j.PlantView(now); ok {
		r.Plant = &plantStatus{v, state, report.StateLines(j.Plan, v, state, j.StoppedNodes())}
	}
	r.Next = nextOpen(j, now)
	return r, nil
}

// changes tells how the values of a check changed from the plan's baseline.
func changes(s *report.State) []string {
	a := s.LastJudged()
	if a == nil {
		return nil
	}
	var out []string
	for _, d := range a.Finding.Changes() {
		out = append(out, d.ChangeText())
	}
	return out
}

func holdStatus(j *report.Job, h *plan.Hold, now time.Time) statusStep {
	line := statusStep{Hold: h.ID, Title: h.Action}
	if s, ok := j.Steps[h.ID]; ok {
		line.Verdict, line.Taken = checks.Pass, s.Taken.Format("2006-01-02T15:04:05Z07:00")
		return line
	}
	line.Gaps = j.Gaps(h, now)
	return line
}

func plainStatus(j *report.Job, s *plan.Step, now time.Time) statusStep {
	line := statusStep{Step: s.ID, Title: s.Action}
	if is, ok := j.Steps[s.ID]; ok {
		line.Verdict, line.Taken = checks.Pass, is.Taken.Format("2006-01-02T15:04:05Z07:00")
		if line.Why = j.StepPhotosOpen(s); line.Why != "" {
			line.Verdict = checks.Missing
		}
		return line
	}
	if l := j.LeftNow(s.ID); l != nil {
		line.Left = l.Why
	}
	if j.StepBefore(s.ID) != nil {
		return line // by then the plant is another
	}
	for _, r := range j.Refusals(s, report.Stepped{}, now) {
		line.Rules = append(line.Rules, string(r.Rule))
	}
	return line
}

func printStatus(w io.Writer, r statusReport) error {
	fmt.Fprintf(w, "%s: %s\njob identifier %s\n%s\n", r.Job, r.Title, report.ShortHash(r.Identifier), r.Words)
	session.PrintAgainst(w, report.Overall{Against: r.Against})
	fmt.Fprintln(w)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for i, s := range r.Steps {
		if s.Hold != "" {
			fmt.Fprintf(tw, "%d\tHOLD %s\t%s\t%s\n", i+1, s.Hold, holdWords(s), s.Title)
			continue
		}
		if s.Step != "" {
			fmt.Fprintf(tw, "%d\tstep %s\t%s\t%s\n", i+1, s.Step, plainWords(s), s.Title)
			continue
		}
		fmt.Fprintf(tw, "%d\t%s\t%s\t%s\n", i+1, s.Check, verdictWords(s), s.Title)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, s := range r.Steps {
		if s.Left != "" {
			fmt.Fprintf(w, "\nstep %s is left: %s\n", s.Step, s.Left)
		}
		if len(s.Rules) > 0 {
			fmt.Fprintf(w, "\nstep %s must not be done now: rule %s\n", s.Step, strings.Join(s.Rules, ", "))
		}
		if why := s.whyWords(); s.Check != "" && why != "" {
			fmt.Fprintf(w, "\n%s: %s\n", s.Check, why)
		}
		for i, c := range s.Changes {
			if i == 0 {
				fmt.Fprintf(w, "\n%s, since before:\n", s.Check)
			}
			fmt.Fprintf(w, "  %s\n", c)
		}
		if len(s.Gaps) > 0 {
			fmt.Fprintf(w, "\nhold %s: do not proceed; missing:\n", s.Hold)
		}
		session.PrintGaps(w, s.Gaps)
	}
	if r.Plant != nil {
		fmt.Fprintln(w, "\nplant, as the steps recorded have it:")
		for _, line := range r.Plant.Lines {
			fmt.Fprintf(w, "  %s\n", line)
		}
	}
	printWaits(w, r.waits)
	printDefects(w, r.Defects)
	printNotes(w, r.Notes)
	for i, g := range r.Signatures {
		if i == 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintln(w, g.Words)
		if g.Doubt != "" {
			fmt.Fprintf(w, "  NOT SHOWN TO BE GOOD: %s\n", g.Doubt)
		}
	}
	return nil
}

// whyWords tell what a check came to, and who accepted it: too long for its line.
func (s statusStep) whyWords() string {
	if s.Conceded && !s.NotDone {
		return report.JoinWords(report.JoinWords(s.Why, "accepted under concession"), s.Proof)
	}
	return report.JoinWords(s.Why, s.Proof)
}

func verdictWords(s statusStep) string {
	words := s.Verdict.String()
	if s.NotDone {
		words = "skipped"
	}
	if s.Conceded {
		words += ", accepted"
	}
	if s.Attempts > 1 {
		words += fmt.Sprintf(", attempt %d", s.Attempts)
	}
	return words
}

func holdWords(s statusStep) string {
	switch {
	case s.Taken != "":
		return "done " + s.Taken[11:16]
	case len(s.Gaps) > 0:
		return "do not proceed"
	}
	return "may be done"
}

func plainWords(s statusStep) string {
	switch {
	case s.Taken != "" && s.Why != "":
		return "done " + s.Taken[11:16] + ", " + s.Why
	case s.Taken != "":
		return "done " + s.Taken[11:16]
	case s.Left != "":
		return "LEFT"
	}
	return "not done"
}
