package session

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// Session is an open book with one job of it, folded.
type Session struct {
	Env  *Env
	Book *records.Book
	Job  *report.Job
	ID   string // of the job in this book; its own unless another job has that here
	By   string // person id that entries are made by

	DryRun   bool          // nothing is stored: what would be is told
	Walking  bool          // what is told to be typed are lines of a walk, not commands
	seen     int           // the job's newest entry in the book, as last read
	rejudged []string      // checks that the newest staging judged again
	staged   []chain.Draft // taken up into the job, not stored yet
}

// OpenSeen is OpenRead for who only looks: a beginning of the job's id serves that is that
// of no other job.
func OpenSeen(ctx context.Context, env *Env, id string) (*Session, error) {
	return openSession(ctx, env, id, records.OpenRead, report.Fold, (*Session).begins)
}

// OpenRead opens the book to read one job, named by its whole id: files are made of it.
func OpenRead(ctx context.Context, env *Env, id string) (*Session, error) {
	return OpenSession(ctx, env, id, records.OpenRead)
}

// OpenLook is OpenSeen for who is shown no more than was recorded: findings are not judged
// again, see report.Recorded.
func OpenLook(ctx context.Context, env *Env, id string) (*Session, error) {
	return openSession(ctx, env, id, records.OpenRead, report.Recorded, (*Session).begins)
}

// Replay judges again what was taken as recorded, before something is told to be free.
func (s *Session) Replay() error {
	job, err := s.Job.Replayed()
	if err != nil {
		return err
	}
	s.take(job, s.ID)
	return nil
}

// OpenWrite opens the book to add to one job; by is a person of its plan, or "" for whom
// the environment names, or the plan's only technician.
func OpenWrite(ctx context.Context, env *Env, id, by string) (*Session, error) {
	s, err := OpenSession(ctx, env, id, records.Open)
	if err != nil {
		return nil, err
	}
	return s.actsAs(by)
}

func (s *Session) actsAs(by string) (*Session, error) {
	var err error
	if s.By, err = s.Env.Person(s.Job.Plan, by); err != nil {
		s.Close()
		return nil, err
	}
	s.SayForks()
	return s, nil
}

// OpenGoing is OpenWrite for who goes on with a job, by the id that they know: where another
// continuation joined all of that one, it is gone on with.
func OpenGoing(ctx context.Context, env *Env, id, by string) (*Session, error) {
	s, err := OpenSession(ctx, env, id, records.Open)
	if err != nil {
		return nil, err
	}
	for _, f := range s.Job.Forks() {
		if f.Superseded > 0 {
			s.Close()
			fmt.Fprintf(env.Err, "%s goes on as %s, whose entry %d joined all of it\n", id, f.ID, f.Superseded)
			return OpenWrite(ctx, env, f.ID, by)
		}
	}
	return s.actsAs(by)
}

// SayForks says that somebody else went on with the job, and what to do about it: before
// anything is added to it, too.
func (s *Session) SayForks() {
	for _, f := range s.Job.Forks() {
		way := "an engineer decides what counts: " + s.Env.HintOf("join", s.ID, f.ID, "--by", "ENGINEER")
		if f.Superseded > 0 {
			way = s.Env.HintOf("status", f.ID)
		}
		fmt.Fprintf(s.Env.Err, "FORK: job %s %s\n  the other side is %s: %s\n", s.ID, s.Job.ForkWords(f), f.ID, way)
	}
}

// OpenFor is openWrite to add to one check or hold point of the job, which find finds.
func OpenFor[T any](ctx context.Context, env *Env, job, by string, find func(*Session, string) (T, error), id string) (*Session, T, error) {
	var found T
	s, err := OpenWrite(ctx, env, job, by)
	if err != nil {
		return nil, found, err
	}
	if found, err = find(s, id); err != nil {
		s.Close()
		return nil, found, err
	}
	return s, found, nil
}

// OpenSession opens the book and takes up one job of it.
func OpenSession(ctx context.Context, env *Env, id string, open func(context.Context, string) (*records.Book, error)) (*Session, error) {
	return openSession(ctx, env, id, open, report.Fold, nil)
}

// folding makes a job of its plan and its entries: report.Fold or report.Recorded.
type folding func(*plan.Plan, []chain.Entry) (*report.Job, error)

// openSession takes up a job; where there is none of the id, whole tells which is meant by it,
// nil where none may be.
func openSession(ctx context.Context, env *Env, id string, open func(context.Context, string) (*records.Book, error), fold folding, whole func(s *Session, ctx context.Context, id string) string) (*Session, error) {
	book, err := open(ctx, env.Book)
	if err != nil {
		return nil, env.NoBook(err)
	}
	s := &Session{Env: env, Book: book}
	err = s.load(ctx, id, fold)
	if errors.Is(err, records.ErrNoJob) && whole != nil {
		if one := whole(s, ctx, id); one != "" {
			err = s.load(ctx, one, fold)
		}
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Close closes the book.
func (s *Session) Close() { s.Book.Close() }

// Load reads the job's entries and plan and folds them.
func (s *Session) Load(ctx context.Context, id string) error { return s.load(ctx, id, report.Fold) }

func (s *Session) load(ctx context.Context, id string, fold folding) error {
	entries, err := s.Book.Entries(ctx, id)
	if errors.Is(err, records.ErrNoJob) {
		there := s.jobIDs(ctx)
		if len(there) > 0 {
			err = fmt.Errorf("%w: there are %s", err, strings.Join(there, ", "))
		}
		return Apart(fmt.Errorf("%w; type: %s", err, s.Env.Hint("jobs")), Parts{Where: "job", Met: id, Accepted: there})
	}
	if err != nil {
		return err
	}
	job, err := foldJob(ctx, s.Book, entries, fold)
	if err != nil {
		return err
	}
	if job.Lines, err = s.Book.Beside(ctx, id, entries); err != nil {
		return err
	}
	s.take(job, id)
	return nil
}

func (s *Session) take(job *report.Job, id string) {
	s.Job, s.ID, s.seen, s.staged = job, id, job.Head().Seq, nil
	s.Env.known = [2]string{job.ID, id}
	job.Hint = s.Env.Hint
}

// Broken are the rules that what is staged breaks by now, in words.
func (s *Session) Broken(but ...string) []string {
	var out []string
	for _, b := range s.Job.BreachesSince(s.seen) {
		if !slices.Contains(but, b.Rule) {
			out = append(out, b.Words)
		}
	}
	return out
}

// FoldJob reads the plan a job was opened with and folds its entries.
func FoldJob(ctx context.Context, book *records.Book, entries []chain.Entry) (*report.Job, error) {
	return foldJob(ctx, book, entries, report.Fold)
}

// LookJob is FoldJob with findings as they were recorded, see report.Recorded.
func LookJob(ctx context.Context, book *records.Book, entries []chain.Entry) (*report.Job, error) {
	return foldJob(ctx, book, entries, report.Recorded)
}

func foldJob(ctx context.Context, book *records.Book, entries []chain.Entry, fold folding) (*report.Job, error) {
	var first report.Opened
	if err := chain.DecodeStrict(entries[0].Data, &first); err != nil {
		return nil, fmt.Errorf("job %s, entry 1: %w", entries[0].Job, err)
	}
	data, err := book.Plan(ctx, first.PlanHash)
	if err != nil {
		return nil, err
	}
	plan, err := plan.Load(first.PlanFile, data)
	if err != nil {
		return nil, fmt.Errorf("the plan that job %s was opened with is not read by this version: %w", entries[0].Job, err)
	}
	job, err := fold(plan, entries)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrIntegrity, err)
	}
	return job, nil
}

// PlanText is the plan of the job as it is in force, as it was read.
func (s *Session) PlanText(ctx context.Context) ([]byte, error) {
	if n := len(s.Job.Amendments); n > 0 {
		return []byte(s.Job.Amendments[n-1].Amended.Plan), nil
	}
	return s.Book.Plan(ctx, s.Job.PlanHash)
}

// begins is the only job whose id begins so, "" for none. Other continuations of a job begin
// as it does, and do not count against it.
func (s *Session) begins(ctx context.Context, id string) string {
	one := ""
	for _, j := range s.jobIDs(ctx) {
		switch {
		case id == "" || !strings.HasPrefix(j, id):
		case one == "" || strings.HasPrefix(one, j+"."):
			one = j
		case !strings.HasPrefix(j, one+"."):
			return ""
		}
	}
	return one
}

// jobIDs are the jobs of the book and other continuations of them, none where they cannot
// be read.
func (s *Session) jobIDs(ctx context.Context) []string {
	jobs, err := s.Book.Jobs(ctx)
	if err != nil {
		return nil
	}
	var ids []string
	for _, j := range jobs {
		ids = append(ids, j.ID)
		for _, b := range j.Branches {
			ids = append(ids, b.ID)
		}
	}
	return ids
}

// Person is the person of a plan that is named, in the command or else in the environment,
// or its only technician.
func (env *Env) Person(p *plan.Plan, by string) (string, error) { return Person(p, cmp.Or(by, env.By)) }

// Person finds who makes the entries: the named person of the plan, or its only
// technician.
func Person(p *plan.Plan, by string) (string, error) {
	var ids, technicians []string
	for _, q := range p.People {
		ids = append(ids, q.ID)
		if q.Role == "technician" {
			technicians = append(technicians, q.ID)
		}
	}
	if by == "" && len(technicians) == 1 {
		return technicians[0], nil
	}
	if p.Person(by) != nil {
		return by, nil
	}
	if by == "" {
		return "", Apart(Usagef("say who you are with --by, one of %s", strings.Join(ids, ", ")), Parts{Where: "--by", Accepted: ids})
	}
	return "", NoSuch("person", by, ids, "no person %q in the plan", by)
}

// Check finds a check of the plan.
func (s *Session) Check(id string) (*plan.Check, error) {
	if c := s.Job.Plan.Check(id); c != nil {
		return c, nil
	}
	return nil, NoSuch("check", id, idsOf(CheckIDs(s)), "no check %q in job %s", id, s.Job.ID)
}

// Attempt is the number of the attempt that the next line belongs to.
func (s *Session) Attempt(check string) int {
	a := s.Job.State(check).Last()
	switch {
	case a == nil:
		return 1
	case a.Judged:
		return a.Number + 1
	}
	return a.Number
}

// CheckIDs offers the checks of a job's plan.
func CheckIDs(s *Session) []string {
	var out []string
	for _, c := range s.Job.Plan.Checks() {
		out = append(out, c.ID+"\t"+c.Title)
	}
	return out
}

// idsOf lists what is offered without its words.
func idsOf(offered []string) []string {
	ids := make([]string, len(offered))
	for i, o := range offered {
		ids[i], _, _ = strings.Cut(o, "\t")
	}
	return ids
}

// StepIDs offers the hold points and the steps of a job's plan.
func StepIDs(s *Session) []string {
	var out []string
	for _, it := range s.Job.Plan.Items() {
		if st := it.Does(); st != nil {
			out = append(out, st.ID+"\t"+st.Action)
		}
	}
	return out
}

// DeviceIDs offers the devices of the network of a job's plan.
func DeviceIDs(s *Session) []string {
	var out []string
	if s.Job.Plan.Network != nil {
		for _, d := range s.Job.Plan.Network.Devices {
			out = append(out, d.ID+"\t"+d.Name)
		}
	}
	return out
}
