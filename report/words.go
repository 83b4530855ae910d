package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/chain"
)

// Deferral stands on every handover and in the README.
const Deferral = "This record shows what was read and how it was judged. It authorises nothing. Local rules, the permit and the person licensed to decide come first."

// stampLayout is how moments stand in handovers.
const stampLayout = "2006-01-02 15:04:05 -07:00"

// stamp prints a moment with its offset, as the person's clock had it.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(stampLayout)
}

func itoa(n int) string { return strconv.Itoa(n) }

// joinWords puts two remarks in one; an empty one leaves no sign.
func joinWords(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}

func ruleWords(rule string) string {
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
		for _, s := range j.States {
			for _, a := range s.Attempts {
				if !uses(a, m.ID, j.input(s.Check, a)) {
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

// entryWords tells an entry in one line, for the log.
func entryWords(e chain.Entry) string {
	switch e.Kind {
	case KindOpen:
		if o, err := decode[Opened](e); err == nil {
			return "plan " + o.PlanFile + " put to work"
		}
	case KindRead:
		if r, err := decode[Read](e); err == nil {
			return "attempt " + itoa(r.Attempt) + ": " + answerWords(r.Answers) + because(joinWords(r.Why, r.PastHold))
		}
	case KindJudge:
		if r, err := decode[Judged](e); err == nil {
			return "attempt " + itoa(r.Attempt) + ": " + r.Verdict.String() + because(r.Because)
		}
	case KindCorrect:
		if r, err := decode[Corrected](e); err == nil {
			return "attempt " + itoa(r.Attempt) + ": " + answerWords(r.Answers) + because(r.Why)
		}
	case KindSkip:
		if r, err := decode[Skipped](e); err == nil {
			return r.Why
		}
	case KindNote:
		if r, err := decode[Noted](e); err == nil {
			return r.Text
		}
	case KindConcede:
		if r, err := decode[Conceded](e); err == nil {
			return r.Engineer + " accepted attempt " + itoa(r.Attempt) + " (" + r.Verdict.String() + ")" + because(r.Reason)
		}
	case KindStep:
		if r, err := decode[Stepped](e); err == nil {
			return r.Hold + ": " + r.Action + ", taken " + r.Taken
		}
	case KindUndo:
		if u, err := decode[Undone](e); err == nil {
			return u.Hold + ": undone " + u.Done + ": " + u.Why
		}
	case KindBad:
		if b, err := decode[FoundBad](e); err == nil {
			return "serial " + b.Serial + " found bad, from " + b.Since + " on: " + b.Why
		}
	case KindAttach:
		if a, err := chain.ReadAttached(e); err == nil {
			return attachedWords(a)
		}
	case KindSign:
		if r, err := decode[Signed](e); err == nil {
			return newSignature(e, r).words()
		}
	}
	return "cannot be read"
}

func answerWords(a checks.Answers) string {
	parts := make([]string, 0, len(a))
	for _, k := range sortedKeys(a) {
		parts = append(parts, k+" = "+a[k].Typed)
	}
	return strings.Join(parts, ", ")
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
	text := quantity.Show(off, f.Unit, typedDecimals(a.Typed))
	if off > 0 && strings.ContainsAny(text, "123456789") {
		text = "+" + text
	}
	return "read − expected " + text
}
