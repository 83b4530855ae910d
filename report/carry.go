package report

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"handback/checks"
	"handback/records/chain"
)

// A reading taken at a point with an instrument serves the next check that asks for the
// same point with the same instrument: it is taken over, and its answer says where it was
// read. It is the same reading, so that what becomes of the first becomes of the second:
// a correction of one corrects both.

// carriedMost is how old a reading may be to serve a second check (our choice): what a
// supply does in a quarter of an hour is small, what people do is not.
const carriedMost = 15 * time.Minute

// Carried are the readings that other checks took at the points a form asks, with the
// instrument that in names for them. Nothing is carried from before a step was taken or
// undone, over a clock set back, from what is doubted, lapsed, void or being repeated,
// or into a check whose instrument is tried before and after its readings; nor what was
// read before the check itself was taken last.
func (j *Job) Carried(in checks.Input) checks.Answers {
	out := checks.Answers{}
	if in.Check.Tried {
		return out
	}
	for _, f := range in.Form() {
		if _, has := in.Answers[f.Key]; has || f.Point == "" {
			continue
		}
		if a, ok := j.readAt(in, f); ok {
			out[f.Key] = a
		}
	}
	return out
}

// readAt is the newest reading at the point of a field that may serve again.
func (j *Job) readAt(in checks.Input, f checks.Field) (found checks.Answer, ok bool) {
	after := 0
	if a := j.State(in.Check.ID).LastJudged(); a != nil {
		after = a.begun()
	}
	after = max(after, j.changedAt())
	for _, s := range j.States {
		a := s.LastJudged()
		if s.Check == in.Check || a == nil || a.newest() <= after || !j.mayServe(s, a) {
			continue
		}
		for _, g := range j.form(s, a) {
			is, has := a.Answers[g.Key]
			if !has || g.Point != f.Point || g.Unit != f.Unit || is.From != nil || is.Kept != "" || is.Bound != "" ||
				a.Answers[g.Meter].Word == "" || a.Answers[g.Meter].Word != in.Answers[f.Meter].Word {
				continue
			}
			line := a.lineOf(g.Key)
			if line.Seq <= after || in.At.Sub(line.At) > carriedMost || in.At.Before(line.At) || j.setBack(line.Seq, j.Head().Seq) > 0 {
				continue
			}
			after, found, ok = line.Seq, is, true
			found.From = &checks.Origin{Entry: line.Seq, Check: s.Check.ID, Field: g.Key, At: line.At.Format(time.RFC3339)}
		}
	}
	return found, ok
}

// ChangesPlant tells whether entries of a kind change the state of the plant, so that no
// reading taken before one serves after it.
func ChangesPlant(kind string) bool {
	return kind == EntryStep || kind == EntryUndo || kind == EntryFound
}

// changedAt is the newest entry that changed the plant, 0 when none did.
func (j *Job) changedAt() int {
	for _, e := range slices.Backward(j.Counted()) {
		if ChangesPlant(e.Kind) {
			return e.Seq
		}
	}
	return 0
}

// MayKeep are the answers of the newest attempt of a check that an attempt which repeats a
// part of it may keep, each with where it was read. None are kept of a proof of dead, of a
// check whose instrument is tried around its readings, of what is doubted or void, or of
// live plant beyond a short time; none after a step changed the plant. Times are asked
// again.
func (j *Job) MayKeep(s *State, now time.Time) checks.Answers {
	out := checks.Answers{}
	a := s.LastJudged()
	if a == nil || s.Check.Kind.Proves || s.Check.Tried || a.Unjudged() || a.Finding.Verdict == checks.Void || !a.Finding.Stop.None() || j.lapsed(s, a).why != "" ||
		j.setBack(a.begun(), j.Head().Seq) > 0 {
		return out
	}
	for _, f := range j.form(s, a) {
		is, has := a.Answers[f.Key]
		line := a.lineOf(f.Key)
		read := is.Read(line.At)
		if !has || is.Kept != "" || f.Sort == checks.Instant || line.Seq <= j.changedAt() || now.Before(read) || s.Check.Kind.Live && now.Sub(read) > carriedMost {
			continue
		}
		if is.From == nil && f.Sort != checks.MeterUsed {
			is.From = &checks.Origin{Entry: line.Seq, Check: s.Check.ID, Field: f.Key, At: line.At.Format(time.RFC3339)}
		}
		out[f.Key] = is
	}
	return out
}

// mayServe tells whether the readings of an attempt may serve another check.
func (j *Job) mayServe(s *State, a *Attempt) bool {
	return a == s.Last() && !a.Unjudged() && a.Finding.Verdict != checks.Void && a.Finding.Stop.None() && j.lapsed(s, a).why == ""
}

// newest is the entry of its last line.
func (a *Attempt) newest() int {
	if len(a.Lines) == 0 {
		return 0
	}
	return a.Lines[len(a.Lines)-1].Seq
}

// Entered are the answers of an attempt that were accepted together.
type Entered struct {
	Seq     int
	At      time.Time
	By      string
	Answers []Keyed // by key
}

// Keyed is an answer with the key of its field. A line has one or a few, and a job many
// lines: a map of each would take ten times the room.
type Keyed struct {
	Key string
	checks.Answer
}

// keyed are answers in the order of their keys.
func keyed(answers checks.Answers) []Keyed {
	out := make([]Keyed, 0, len(answers))
	for _, k := range slices.Sorted(maps.Keys(answers)) {
		out = append(out, Keyed{k, answers[k]})
	}
	return out
}

// Has tells whether the line answers a field.
func (l Entered) Has(key string) bool {
	return slices.ContainsFunc(l.Answers, func(k Keyed) bool { return k.Key == key })
}

// Map are the answers by key.
func (l Entered) Map() checks.Answers {
	out := checks.Answers{}
	for _, k := range l.Answers {
		out[k.Key] = k.Answer
	}
	return out
}

// lineOf is the line that read an answer.
func (a *Attempt) lineOf(key string) Entered {
	for _, l := range slices.Backward(a.Lines) {
		if l.Has(key) {
			return l
		}
	}
	return Entered{}
}

// miscarried says which answer of a line claims to be taken over and could not be, ""
// when none does. kept are those that the attempt before it may leave it.
func (j *Job) miscarried(in checks.Input, read checks.Answers, kept checks.Answers) string {
	if !anyCarried(read) {
		return ""
	}
	in.Answers = in.With(read).Answers
	for _, f := range in.Form() { // what was kept belongs to the instrument it was read with
		if m := in.Answers[f.Meter]; f.Meter != "" && m.Word != kept[f.Meter].Word {
			delete(kept, f.Key)
		}
	}
	for key := range read {
		delete(in.Answers, key)
		if f, ok := checks.FieldNamed(in.Form(), key); ok && f.Sort == checks.MeterUsed {
			in.Answers[key] = read[key]
		}
	}
	may := j.Carried(in)
	maps.Copy(may, kept)
	for _, key := range slices.Sorted(maps.Keys(read)) {
		a := read[key]
		if a.From == nil {
			continue
		}
		if m, ok := may[key]; !ok || *m.From != *a.From || !SameAnswer(m, a, false) {
			return fmt.Sprintf("%s is not what entry %d (%s) read at this point with this instrument a short time before", key, a.From.Entry, a.From.Check)
		}
	}
	return ""
}

func anyCarried(read checks.Answers) bool {
	for _, a := range read {
		if a.From != nil {
			return true
		}
	}
	return false
}

// correct puts answers of a judged attempt right.
func (s *State) correct(e chain.Entry, c Corrected) error {
	a := s.Last()
	if a == nil || !a.Judged || a.Number != c.Attempt {
		return fmt.Errorf("attempt %d was not judged", c.Attempt)
	}
	a.Answers = maps.Clone(a.Answers) // what was known before stays as it was
	for _, k := range slices.Sorted(maps.Keys(c.Answers)) {
		a.Corrections = append(a.Corrections, Correction{e.Seq, e.At, e.By, k, a.Answers[k], c.Answers[k], c.Why})
		a.Answers[k] = c.Answers[k]
	}
	a.form = nil
	return nil
}

// correctCopies corrects what other checks took over of an attempt with it.
func (j *Job) correctCopies(s *State, c []Correction) {
	for _, t := range j.States {
		b := t.Last()
		if b == nil || t == s {
			continue
		}
		copied := false
		for _, key := range slices.Sorted(maps.Keys(b.Answers)) {
			was := b.Answers[key]
			if was.From == nil || was.From.Check != s.Check.ID || s.Last().lineOf(was.From.Field).Seq != was.From.Entry {
				continue
			}
			for _, is := range c {
				if is.Key == was.From.Field {
					if !copied {
						b.Answers = maps.Clone(b.Answers)
					}
					now := is.Is
					now.From = was.From
					b.Answers[key] = now
					b.Corrections = append(b.Corrections, Correction{is.Seq, is.At, is.By, key, was, now, is.Why})
					copied, b.form = true, nil
				}
			}
		}
		if copied && b.Judged {
			j.came(t)
		}
	}
}

// strayed says why readings that an attempt took over are not what they were any longer,
// with the entry that made them so: the check that read them was taken again, or its
// instrument was another one. "" while they stand.
func (j *Job) strayed(s *State, a *Attempt) (why string, seq int) {
	if !anyCarried(a.Answers) {
		return "", 0
	}
	for _, f := range j.form(s, a) {
		from := a.Answers[f.Key].From
		if from == nil || from.Check == s.Check.ID {
			continue
		}
		source := j.State(from.Check)
		if source == nil || source.Last() == nil {
			return fmt.Sprintf("entry %d of %s is not there", from.Entry, from.Check), a.begun()
		}
		is := source.Last()
		if is.lineOf(from.Field).Seq != from.Entry {
			return fmt.Sprintf("its readings were taken over from %s, which was taken again", from.Check), is.begun()
		}
		g, _ := checks.FieldNamed(j.form(source, is), from.Field)
		if is.Answers[g.Meter].Word != a.Answers[f.Meter].Word {
			return fmt.Sprintf("its readings were taken over from %s, whose instrument was corrected", from.Check), entryOf(is, g.Meter)
		}
	}
	return "", 0
}
