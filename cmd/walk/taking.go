package walk

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// taking is one attempt of a check under way.
type taking struct {
	rows  [][]checks.Field // what is asked
	at    int              // the row that is asked now
	w     *walker
	check *plan.Check
	in    checks.Input   // what is stored of the attempt, with pend
	pend  checks.Answers // what goes into the record with the next line that is typed
	using checks.Answers // instruments and people named with use
	lead  []string       // what is said before the next question
}

// begin looks at what there is, and tells what goes with the readings: the instruments,
// what is stored, kept or taken over.
func (t *taking) begin(first bool) {
	t.look()
	if !first {
		t.sayOver()
		t.sayKept()
		return
	}
	if f := t.check.Follows.Words; f != "" {
		t.lead = append(t.lead, "procedure: "+f)
	}
	if t.check.Note != "" {
		t.lead = append(t.lead, t.check.Note)
	}
	if a := t.w.Job.State(t.check.ID).Last(); a != nil && !a.Judged {
		line := a.Lines[len(a.Lines)-1]
		t.w.say("  stored before: %s, the last: %s\n", report.Count(len(a.Lines), "line", "lines"), t.w.echo(t.in.Form(), line.Map()))
	}
	t.leadWith()
	t.sayOver()
	t.sayKept()
}

// sayLead says what waits to be said before a question, and more, on as few lines as hold
// each of it whole; where a target comes from, as far as one of them has room for it.
func (t *taking) sayLead(source string, more ...string) {
	var lines []string
	room := func(i int, text string) bool { return len([]rune(lines[i]+"; "+text))+2 <= t.w.Env.Width() }
	for _, text := range append(t.lead, more...) {
		switch n := len(lines); {
		case text == "":
		case n > 0 && room(n-1, text):
			lines[n-1] += "; " + text
		default:
			lines = append(lines, text)
		}
	}
	for i := range lines {
		if source != "" && room(i, source) {
			lines[i], source = lines[i]+"; "+source, ""
		}
	}
	for _, line := range lines {
		t.w.say("  %s\n", line)
	}
	t.lead = nil
}

// sayKept tells what is taken again alone, when the rest is kept.
func (t *taking) sayKept() {
	if k := t.w.keeping; k != nil && k.check == t.check.ID {
		t.sayLead("")
		t.w.say("  taken again: %s; the rest stays as it was\n", k.again)
	}
}

// sayOver tells what is taken over from other checks, and from which entries.
func (t *taking) sayOver() {
	read := checks.Answers{}
	var from, entries []string
	for _, f := range t.in.Form() {
		a := t.pend[f.Key]
		if a.From == nil || a.From.Check == t.check.ID {
			continue
		}
		read[f.Key] = a
		if where := fmt.Sprintf("%s, %s", a.From.Check, a.Read(t.in.At).Format("15:04")); len(from) == 0 || !strings.HasPrefix(from[len(from)-1], a.From.Check+",") {
			from = append(from, where)
		}
		if entry := fmt.Sprint(a.From.Entry); !slices.Contains(entries, entry) {
			entries = append(entries, entry)
		}
	}
	if len(read) == 0 {
		return
	}
	t.sayLead("")
	text := report.Count(len(read), "reading", "readings") // those typed in this walk were seen
	if slices.ContainsFunc(t.in.Form(), func(f checks.Field) bool { a, ok := read[f.Key]; return ok && a.From.Entry < t.w.began }) {
		text = t.w.otherwise(t.in.Form(), read, true)
	}
	t.w.say("  from %s, entry %s (anew: read again): %s\n", strings.Join(from, "; "), strings.Join(entries, ", "), text)
}

// look reads what is stored of the attempt, and works out what goes with the next line.
func (t *taking) look() {
	in := t.w.Job.Input(t.check, t.w.Env.Now())
	t.pend = checks.Answers{}
	if k := t.w.keeping; k != nil && k.check == t.check.ID && len(in.Answers) == 0 {
		maps.Copy(t.pend, k.answers)
	}
	view := in.With(t.pend)
	for _, f := range t.w.implied(view.Form()) {
		_, has := view.Answers[f.Key]
		if a, ok := t.using[f.Key]; ok {
			t.drop(f.Key, a)
			t.pend[f.Key] = a
		} else if a, err := checks.ParseAnswer(f, in.Plan, t.w.impliedOf(f), t.w.Env.Now()); err == nil && !has {
			t.pend[f.Key] = a
		}
	}
	view = in.With(t.pend)
	if t.w.readAnew != t.check.ID && t.w.keeping == nil {
		maps.Copy(t.pend, t.w.Job.Carried(view))
	}
	t.in = in.With(t.pend)
}

// drop leaves out what was kept and was read with another instrument.
func (t *taking) drop(meter string, is checks.Answer) {
	if was, had := t.pend[meter]; !had || was.Word == is.Word {
		return
	}
	for _, f := range t.in.Form() {
		if f.Meter == meter {
			delete(t.pend, f.Key)
		}
	}
}

// implied are the fields that are not asked: the planned instruments that are in date, and
// the person at the keyboard where it is asked who looked. Another is named with use.
func (w *walker) implied(form []checks.Field) []checks.Field {
	return slices.DeleteFunc(slices.Clone(form), func(f checks.Field) bool { return w.impliedOf(f) == "" })
}

func (w *walker) impliedOf(f checks.Field) string {
	switch m := w.Job.Plan.Meter(f.Default); {
	case f.Sort == checks.MeterUsed && m != nil && m.InDate(w.Env.Now()):
		return f.Default
	case f.Sort == checks.Initials && f.Key == "who":
		return w.By
	}
	return ""
}

// asked are the rows of a form that are asked: what is known, implied, kept or taken over
// is left out.
func (t *taking) asked() [][]checks.Field {
	return checks.Rows(slices.DeleteFunc(slices.Clone(t.in.Form()), func(f checks.Field) bool {
		return f.Known || t.w.impliedOf(f) != "" || t.in.Answers[f.Key].From != nil
	}))
}

// leadWith tells what is in hand, when it is not what was told last.
func (t *taking) leadWith() {
	var with []string
	for _, f := range t.in.Form() {
		a := t.in.Answers[f.Key]
		used, planned := t.in.Plan.Meter(a.Word), t.in.Plan.Meter(f.Default)
		switch {
		case f.Sort == checks.Initials && t.w.impliedOf(f) != "" && a.Word != t.w.By:
			with = append(with, f.Label+": "+a.Word)
		case f.Sort != checks.MeterUsed:
		case used != nil && used.InDate(t.w.Env.Now()):
			with = append(with, fmt.Sprintf("%s (%s)", used.ID, used.Serial))
		case used != nil:
			t.w.say("  %s (%s) is OUT OF DATE since %s: its readings will not count\n", used.ID, used.Serial, used.Due.Format("2006-01-02"))
		case planned != nil:
			t.w.say("  planned is %s (%s), OUT OF DATE since %s: its readings will not count\n", planned.ID, planned.Serial, planned.Due.Format("2006-01-02"))
		}
	}
	if text := strings.Join(with, ", "); text != "" && text != t.w.inHand {
		if text = "with " + text + ", in date"; t.w.inHand == "" {
			text += "; else: use ID" // once: help says it again
		}
		t.w.inHand = strings.Join(with, ", ")
		t.lead = append(t.lead, text)
	}
}

// judge judges what is there when nothing is left to ask.
func (t *taking) judge(ctx context.Context) error {
	t.sayLead("")
	n := t.w.Attempt(t.check.ID)
	var drafts []chain.Draft
	if len(t.pend) > 0 {
		drafts = append(drafts, chain.Draft{At: t.in.At, Kind: report.EntryRead, Check: t.check.ID, Data: report.Read{Attempt: n, Answers: t.pend, Why: t.w.takeAgain(t.check.ID)}})
	}
	_, judged := t.w.Judgement(t.in, n)
	if err := t.w.recordAll(ctx, append(drafts, judged)...); err != nil {
		return err
	}
	t.stored()
	return nil
}

// stored forgets what was for the line that is in the record now.
func (t *taking) stored() {
	t.using = checks.Answers{}
	if t.w.readAnew == t.check.ID && len(t.w.Job.Input(t.check, t.in.At).Answers) == 0 {
		t.w.readAnew = ""
	}
	if k := t.w.keeping; k != nil && k.check == t.check.ID {
		t.w.keeping, t.w.repeatWhy = nil, ""
	}
	t.w.repeatWhy = ""
}

// firstOpen is the row after the last one that holds an answer; or that row itself while one
// of its needed fields is open, or any other of what was typed in part: a walk that ended
// there had not asked for the rest.
func (t *taking) firstOpen() int {
	at, stored := 0, t.w.Job.Input(t.check, t.w.Env.Now()).Answers
	for i, row := range t.asked() {
		needed, left, any, typed := false, false, false, false
		for _, f := range row {
			_, has := t.in.Answers[f.Key]
			_, was := stored[f.Key]
			any, typed = any || has, typed || was
			left, needed = left || !has, needed || !has && f.Need
		}
		switch {
		case any && needed:
			return i
		case typed && left:
			at = i
		case any:
			at = i + 1
		}
	}
	return at
}

// firstMissing is the first row with a needed field that is not answered, -1 when
// there is none.
func firstMissing(rows [][]checks.Field, a checks.Answers) int {
	return slices.IndexFunc(rows, func(row []checks.Field) bool {
		return slices.ContainsFunc(row, func(f checks.Field) bool { _, has := a[f.Key]; return f.Need && !has })
	})
}

// takeAgain gives the reason of a repeat to the first line of its attempt: what was typed, or
// the order to take it again.
func (w *walker) takeAgain(check string) string {
	a := w.Job.State(check).Last()
	if a == nil || !a.Judged {
		return ""
	}
	if r := w.Job.Ordered(check); r != nil && w.repeatWhy == "" {
		return r.Name() + ": " + r.Text
	}
	return w.repeatWhy
}
