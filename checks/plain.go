package checks

import (
	"fmt"
	"strings"
)

// plain is what has no code of its own yet.
func plain(text string) Said { return Say("plain", Word("text", text)) }

func (w *Work) plainSay(v Verdict, field, format string, args ...any) {
	w.Say(v, field, "plain", Word("text", fmt.Sprintf(format, args...)))
}

func (w *Work) plainSayOn(v Verdict, field string, on []string, format string, args ...any) {
	w.say(v, strings.Fields(field), on, plain(fmt.Sprintf(format, args...)))
}

func (w *Work) plainSayOf(d Derived, field, format string, args ...any) {
	w.say(d.Verdict, strings.Fields(field), d.Expr.readings(), plain(fmt.Sprintf(format, args...)))
	w.basis().Value = d.Key
}

func (w *Work) plainWant(c Condition, format string, args ...any) Verdict {
	return w.Want(c, "plain", Word("text", fmt.Sprintf(format, args...)))
}

func (w *Work) plainStop(format string, args ...any) {
	w.Stop("plain", Word("text", fmt.Sprintf(format, args...)))
}

func (w *Work) plainStopAt(fields []string, format string, args ...any) {
	w.StopAt(fields, "plain", Word("text", fmt.Sprintf(format, args...)))
}

func (w *Work) plainCaution(format string, args ...any) {
	w.Caution("plain", Word("text", fmt.Sprintf(format, args...)))
}

func levelWords(share, of float64) string {
	return fmt.Sprintf("%s (%s of %s, our choice)", spell(share*of, "V"), spell(share*100, "%"), spell(of, "V"))
}
