package report

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/chain"
)

// Deferral stands on every handover and in the README.
const Deferral = "This record shows what was read and how it was judged. It authorises nothing. Local rules, the permit and the person licensed to decide come first."

// StampLayout is how moments stand in handovers.
const StampLayout = "2006-01-02 15:04:05 -07:00"

// Stamp prints a moment with its offset, as the person's clock had it.
func Stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(StampLayout)
}

// JoinWords puts two remarks in one; an empty one leaves no sign.
func JoinWords(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}

// RuleWords tell the rule of a plan.
func RuleWords(rule string) string {
	if rule == "simple" {
		return "simple: a value is held against its limit as it stands; its uncertainty is shown"
	}
	return "guarded: limits are drawn in by the expanded uncertainty (k = 2, no more than the largest error) as far as the instruments' accuracy is known (ILAC-G8:09/2019); elsewhere simple"
}

// plantLines prints the nameplate data that predictions rest on.
func plantLines(p *plan.Plan) [][2]string {
	var out [][2]string
	if s := p.Plant.Supply; s != nil {
		text := amount(float64(s.Usual)/1e3, "kV") + " usual"
		if s.Low != nil && s.High != nil {
			text += fmt.Sprintf(", %s to %s expected", amount(float64(*s.Low)/1e3, ""), amount(float64(*s.High)/1e3, "kV"))
		}
		if s.Fault != nil {
			text += ", fault level " + amount(float64(*s.Fault)/1e6, "MVA")
		}
		out = append(out, [2]string{"HV supply", text})
	}
	for _, t := range p.Plant.Transformers {
		out = append(out, [2]string{"Transformer " + t.ID, fmt.Sprintf("%s, %s / %s, %s, impedance %s, load loss %s",
			amount(float64(t.Rating)/1e3, "kVA"), amount(float64(t.HV)/1e3, "kV"), amount(float64(t.LV), "V"), t.Group,
			amount(float64(t.Impedance), "%"), amount(float64(t.LoadLoss)/1e3, "kW"))})
	}
	for _, x := range p.Plant.Incomers {
		out = append(out, [2]string{"Incomer " + x.ID, strings.TrimPrefix(x.Name+", ", ", ") + amount(float64(x.Rating)/1e3, "kVA") + ", " + amount(float64(x.Rated), "V")})
	}
	for _, b := range p.Plant.Boards {
		text := amount(float64(b.Nominal), "V")
		if b.ShortTime != nil {
			text += ", short-time withstand " + amount(float64(*b.ShortTime)/1e3, "kA")
		}
		if b.Peak != nil {
			text += ", peak withstand " + amount(float64(*b.Peak)/1e3, "kA")
		}
		out = append(out, [2]string{"Board " + b.ID, text})
	}
	return out
}

func amount(x float64, unit string) string {
	return strings.TrimSpace(strconv.FormatFloat(x, 'g', 6, 64) + " " + unit)
}

// meterLines lists the plan's instruments with where each was used.
func (j *Job) meterLines() []MeterLine {
	var out []MeterLine
	for _, m := range j.Plan.Meters {
		line := MeterLine{Meter: m, DueText: m.Due.Format("2006-01-02"), InDate: "not used"}
		for _, s := range j.all() {
			for _, a := range s.Attempts {
				if !uses(a, m.ID, j.input(s, a)) {
					continue
				}
				if !slices.Contains(line.UsedIn, s.Check.ID) {
					line.UsedIn = append(line.UsedIn, s.Check.ID)
				}
				if line.InDate != "no" {
					line.InDate = map[bool]string{true: "yes", false: "no"}[m.InDate(a.First)]
				}
			}
		}
		for _, r := range m.Ranges {
			line.Accuracy = append(line.Accuracy, r.Words())
		}
		out = append(out, line)
	}
	return out
}

func uses(a *Attempt, meter string, in checks.Input) bool {
	for _, f := range in.Form() {
		if f.Sort == checks.MeterUsed && a.Answers[f.Key].Word == meter {
			return true
		}
	}
	return false
}

// EntryWords tells an entry in one line, for the log.
func EntryWords(e chain.Entry) string {
	switch e.Kind {
	case EntryOpen:
		if o, err := Decode[Opened](e); err == nil {
			return "plan " + o.PlanFile + " put to work"
		}
	case EntryRead:
		if r, err := Decode[Read](e); err == nil {
			return "attempt " + strconv.Itoa(r.Attempt) + ": " + answerWords(r.Answers) + because(JoinWords(r.Why, r.PastHold))
		}
	case EntryJudge:
		if r, err := Decode[Judged](e); err == nil {
			return "attempt " + strconv.Itoa(r.Attempt) + ": " + r.Verdict.String() + because(r.Because)
		}
	case EntryCorrect:
		if r, err := Decode[Corrected](e); err == nil {
			return "attempt " + strconv.Itoa(r.Attempt) + ": " + answerWords(r.Answers) + because(r.Why)
		}
	case EntrySkip:
		if r, err := Decode[Skipped](e); err == nil {
			return r.Why
		}
	case EntryNote:
		if r, err := Decode[Noted](e); err == nil {
			return r.Text
		}
	case EntryConcede:
		if r, err := Decode[Conceded](e); err == nil && r.Skip > 0 {
			return r.Engineer + " accepted as not done what entry " + strconv.Itoa(r.Skip) + " skipped" + because(r.Reason)
		} else if err == nil && r.Found > 0 {
			return r.Engineer + " accepted what entry " + strconv.Itoa(r.Found) + " found" + because(r.Reason)
		} else if err == nil {
			return r.Engineer + " accepted attempt " + strconv.Itoa(r.Attempt) + " (" + r.Verdict.String() + ")" + because(r.Reason)
		}
	case EntryStep, EntryUndo, EntryLeft, EntryFound:
		return stepWords(e)
	case EntryBad:
		if b, err := Decode[FoundBad](e); err == nil {
			return "serial " + b.Serial + " found bad, from " + b.Since + " on: " + b.Why
		}
	case EntryAttach:
		if a, err := chain.ReadAttached(e); err == nil {
			return attachedWords(a)
		}
	case EntrySign:
		if r, err := Decode[Signed](e); err == nil {
			return newSignature(e, r).words()
		}
	}
	return openWords(e)
}

// openWords is EntryWords of what is open until somebody decides or closes it.
func openWords(e chain.Entry) string {
	switch e.Kind {
	case EntryDefect:
		if r, err := Decode[Raised](e); err == nil {
			d := Defect{Raised: r}
			return d.Name() + ": " + d.Words()
		}
	case EntryClose:
		if c, err := Decode[Closed](e); err == nil {
			return "defect " + strconv.Itoa(c.Defect) + " closed: " + c.Done
		}
	case EntryRemark:
		if r, err := Decode[Remarked](e); err == nil {
			x := Remark{Remarked: r}
			return x.Name() + on(r.Step) + ": " + r.Text
		}
	case EntryAnswer:
		if a, err := Decode[Answered](e); err == nil {
			return "question " + strconv.Itoa(a.Remark) + " answered: " + a.Text
		}
	case EntryWithdraw:
		if w, err := Decode[Withdrawn](e); err == nil {
			return "remark " + strconv.Itoa(w.Remark) + " withdrawn" + because(w.Why)
		}
	case EntryReview:
		if r, err := Decode[Reviewed](e); err == nil {
			return "looked at " + Count(len(r.Points), "point", "points")
		}
	case EntryAmend:
		if a, err := Decode[Amended](e); err == nil {
			return "plan amended, file " + a.PlanFile + ", SHA-256 " + a.PlanHash + because(a.Why)
		}
	case EntryAccept:
		if a, err := Decode[AcceptedPlan](e); err == nil {
			return "the amended plan accepted, SHA-256 " + a.PlanHash + because(a.Reason)
		}
	}
	return adoptedWords(e)
}

// stepWords tell what an entry about a step or a device says.
func stepWords(e chain.Entry) string {
	switch e.Kind {
	case EntryStep:
		if r, err := Decode[Stepped](e); err == nil {
			return r.ID() + ": " + r.Action + ", done " + r.Taken
		}
	case EntryUndo:
		if u, err := Decode[Undone](e); err == nil {
			return u.ID() + ": undone " + u.Done + ": " + u.Why
		}
	case EntryLeft:
		if l, err := Decode[NotDone](e); err == nil {
			return l.Step + ": left: " + l.Why
		}
	case EntryFound:
		if f, err := Decode[FoundSo](e); err == nil {
			return f.Device + " found " + StandingWords(f.standing()) + " " + f.Seen + ": " + f.Why
		}
	}
	return "cannot be read"
}

func answerWords(a checks.Answers) string {
	parts := make([]string, 0, len(a))
	for _, k := range slices.Sorted(maps.Keys(a)) {
		parts = append(parts, k+" = "+a[k].Typed)
	}
	return strings.Join(parts, ", ")
}

// on names the step that a remark is on.
func on(step string) string {
	if step == "" {
		return ""
	}
	return ", step " + step
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return " (" + why + ")"
}

// offWords is what was read minus what was expected, in the field's unit and to
// the decimals that were typed.
func offWords(f checks.Field, a checks.Answer) string {
	off := quantity.FromBase(a.Value, f.Unit) - quantity.FromBase(f.Expect.Value, f.Unit)
	text := quantity.Show(off, f.Unit, TypedDecimals(a.Typed))
	if off > 0 && strings.ContainsAny(text, "123456789") {
		text = "+" + text
	}
	return "read − expected " + text
}

// Flat puts text on one line.
func Flat(s string) string { return OneLine(Plain(s)) }

// ShortHash is enough of a hash to compare by eye; the whole stands on the certificate.
func ShortHash(hash string) string { return chain.ShortHash(hash) }

// PageMark stands at the foot of every printed page of a workbook.
func PageMark(d *Document) string { return "job " + d.Job + ", record " + ShortHash(d.Head) }

// CutRunes cuts text to n characters, without a blank or an apostrophe at its end.
func CutRunes(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return strings.TrimRight(string(r[:n]), " '")
	}
	return s
}

// OverallWords puts the word that decides in capitals.
func OverallWords(o Overall) string {
	if head, rest, ok := strings.Cut(o.Words, ":"); ok {
		return strings.ToUpper(head) + ":" + rest
	}
	head, rest, _ := strings.Cut(o.Words, ",")
	return strings.ToUpper(head) + "," + rest
}

// OrNone says so where the plan names none.
func OrNone(s string) string {
	if s == "" {
		return "none named in the plan"
	}
	return s
}

// HoldWords tells what became of a hold point.
func HoldWords(h HoldLine) string {
	switch {
	case h.Taken != "" && len(h.Open) > 0:
		return "done " + h.Taken + " by " + h.By + " WHILE IT WAITED FOR " + gapNames(h.Open)
	case h.Taken != "":
		return JoinWords(JoinWords("done "+h.Taken+" by "+h.By, h.Did), h.Accepted)
	case len(h.Open) == 0:
		return JoinWords("NOT DONE; nothing it waits for is open", h.Accepted)
	}
	return "NOT DONE; waits for " + gapNames(h.Open)
}

// FlagPlace tells where a flag stands.
func FlagPlace(f Flag) string {
	switch {
	case f.Check != "" && f.Seq > 0:
		return fmt.Sprintf("%s, entry %d", f.Check, f.Seq)
	case f.Check != "":
		return f.Check
	case f.Seq > 0:
		return fmt.Sprintf("entry %d", f.Seq)
	}
	return "the job"
}

// UnitWords hides the unit of plain numbers.
func UnitWords(unit string) string {
	if unit == "1" {
		return ""
	}
	return unit
}

// OnlyIfMore is words, "" where they say no more than others.
func OnlyIfMore(words, than string) string {
	if words == than {
		return ""
	}
	return words
}

// WhyItStands is why a check stands as it does, with what its verdict does not say.
func WhyItStands(p CheckPage) string {
	state := OnlyIfMore(p.State, p.Verdict.String())
	if state == "" || p.Why == "" {
		return state + p.Why
	}
	return state + ": " + p.Why
}

// TypedDecimals counts the decimals of a bare number as typed: its last digit is
// information.
func TypedDecimals(typed string) int {
	if strings.Trim(typed, "+-−.,0123456789") != "" {
		return 0
	}
	if i := strings.LastIndexAny(typed, ".,"); i >= 0 {
		return len(typed) - i - 1
	}
	return 0
}

// Plain makes text safe to show: line ends are one sign, and what a terminal or a
// cell could act on shows as U+FFFD, so that a reader sees something stood there.
func Plain(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r > '~' }) {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case r == '\r' || r == '\u2028' || r == '\u2029':
			return '\n'
		case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r >= 0xfdd0 && r <= 0xfdef, r == 0xfffe, r == 0xffff:
			return utf8.RuneError
		}
		return r
	}, strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\ufffd"))
}

// sameName tells whether two names are one person's: case and spaces do not count.
func sameName(a, b string) bool {
	return strings.EqualFold(OneLine(a), OneLine(b))
}

// Who names a signature in front of what is said of it; one that cannot be read, by its entry.
func (c Checked) Who() string {
	if c.Unread != "" {
		return fmt.Sprintf("entry %d, signature: ", c.Seq)
	}
	return fmt.Sprintf("entry %d, signature of %s as %s: ", c.Seq, c.Statement.Person, c.Statement.Role)
}
