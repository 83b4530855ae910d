package recall

import (
	"fmt"
	"math"
	"strings"

	"handback/checks/plan"
	"handback/checks/quantity"
)

// Error is by how much an instrument was found to read wrong, as its calibration has it: the
// error of indication, what it shows less what is true (VIM, JCGM 200:2012, 2.16), as a share
// of the reading or as an amount. A reading x is corrected to
//
//	x − (Share/100·x + Amount)
//
// Within says that only a bound of it is known, to either side.
type Error struct {
	Of              string  // the quantity; "" of a share of whatever was read
	From, To        float64 // readings it holds for, without their sign; no bound is ±∞
	Share, Amount   float64 // % and base unit; one of them is 0
	Within          bool
	UShare, UAmount float64 // expanded uncertainty of a correction: % and base unit
	Text            string  // as typed
}

// at is the error of a reading, and what it is uncertain by.
func (e Error) at(x float64) (off, wide float64) {
	off = float64(e.Share/100*x) + e.Amount
	wide = float64(e.UShare/100*math.Abs(x)) + e.UAmount
	if e.Within {
		return 0, wide + math.Abs(off)
	}
	return off, wide
}

func (e Error) covers(of string, x float64) bool {
	x = math.Abs(x)
	return (e.Of == "" || e.Of == of) && quantity.NotBelow(x, e.From) && quantity.NotAbove(x, e.To)
}

// eitherWay are the ways to write that a number goes to both sides.
var eitherWay = []string{"±", "+/-", "+-"}

const errorForms = "such as '+2.1 %', '+2.1 % ± 0.3 %', '-0.4 V', 'to 300 V: +1.5 %' or '300 V to 600 V: ±2 %'; + is too high"

// ParseError reads an error as it is typed: a span of readings and a colon where it does not
// hold for all, a sign that says which way the instrument reads wrong, an amount or a share of
// the reading, and the expanded uncertainty of that behind ±.
func ParseError(text string) (Error, error) {
	e := Error{From: 0, To: math.Inf(1), Text: strings.TrimSpace(text)}
	refuse := func(why string) (Error, error) {
		return Error{}, fmt.Errorf("error %.60q: %s: type it %s", text, why, errorForms)
	}
	is := e.Text
	for _, sign := range eitherWay {
		is = strings.ReplaceAll(is, sign, "±")
	}
	is = strings.ReplaceAll(is, "−", "-")
	span, rest, parted := strings.Cut(is, ":")
	if !parted {
		span, rest = "", is
	}
	if err := e.span(strings.TrimSpace(span), parted); err != nil {
		return refuse(err.Error())
	}
	rest = strings.TrimSpace(rest)
	size, known := strings.CutPrefix(rest, "±")
	e.Within = known
	size, wide, uncertain := strings.Cut(size, "±")
	switch {
	case !known && !strings.HasPrefix(size, "+") && !strings.HasPrefix(size, "-"):
		return refuse("it says no sign: + where the instrument reads too high, - where too low, ± where only a bound is known")
	case known && uncertain:
		return refuse("a bound has no uncertainty of its own")
	}
	var err error
	if e.Share, e.Amount, err = e.size(size); err != nil {
		return refuse(err.Error())
	}
	if uncertain {
		if e.UShare, e.UAmount, err = e.size(wide); err != nil {
			return refuse(err.Error())
		}
		if e.UShare < 0 || e.UAmount < 0 {
			return refuse("an uncertainty has no sign")
		}
	}
	return e, nil
}

// span reads the readings that an error holds for.
func (e *Error) span(text string, parted bool) error {
	if !parted {
		return nil
	}
	from, to, ok := strings.Cut(text, "to ")
	if !ok {
		return fmt.Errorf("%.40q is no span of readings", text)
	}
	high, err := quantity.ParseAmount(strings.TrimSpace(to))
	if err != nil {
		return err
	}
	e.Of, e.To = high.Of, high.Value
	if from = strings.TrimSpace(from); from != "" {
		low, err := quantity.ParseAmount(from)
		if err != nil {
			return err
		}
		if low.Of != high.Of || !(low.Value < high.Value) || low.Value < 0 {
			return fmt.Errorf("%.40q is no span of readings", text)
		}
		e.From = low.Value
	}
	return nil
}

// size reads an amount or a share.
func (e *Error) size(text string) (share, amount float64, err error) {
	a, err := quantity.ParseAmount(strings.TrimPrefix(strings.TrimSpace(text), "+"))
	if err != nil {
		return 0, 0, err
	}
	if a.Of == "share" {
		return a.Value, 0, nil
	}
	if e.Of != "" && e.Of != a.Of {
		return 0, 0, fmt.Errorf("%s is not of %s", strings.TrimSpace(text), quantity.WithArticle(e.Of))
	}
	e.Of = a.Of
	return 0, a.Value - quantity.ToBase(0, a.Unit), nil // a difference knows no offset
}

// found is the error of a reading by all that is known: the greatest where spans meet.
func (q Question) found(of string, x float64) (off, wide float64, ok bool) {
	for _, e := range q.Errors {
		if !e.covers(of, x) {
			continue
		}
		o, w := e.at(x)
		if !ok || math.Abs(o)+w > math.Abs(off)+wide {
			off, wide, ok = o, w, true
		}
	}
	return off, wide, ok
}

// bounded is by how much a reading may be off to either side where only a bound is known.
func (q Question) bounded(of string, x float64) float64 {
	most := 0.0
	for _, e := range q.Errors {
		if e.Within && e.covers(of, x) {
			_, wide := e.at(x)
			most = math.Max(most, wide)
		}
	}
	return most
}

// widened is a range with what the error of a run is uncertain by added to its accuracy.
func (q Question) widened(r plan.Range, by run) (plan.Range, bool) {
	low := 0.0
	if r.From != nil {
		low = r.From.Value
	}
	share, amount := 0.0, 0.0
	for _, e := range q.Errors {
		if e.Of != "" && e.Of != r.To.Of || e.From > r.To.Value || e.To < low {
			continue
		}
		s, a := by.part*e.UShare, by.part*e.UAmount
		if e.Within && by.side == 0 {
			s, a = math.Abs(e.Share), math.Abs(e.Amount)
		}
		share, amount = math.Max(share, s), math.Max(amount, a)
	}
	more := func(p *quantity.Percent, by float64) *quantity.Percent {
		if by == 0 {
			return p
		}
		if p != nil {
			by += float64(*p)
		}
		return new(quantity.Percent(by))
	}
	r.Reading, r.OfRange = more(r.Reading, share), more(r.OfRange, 100*amount/r.To.Value)
	return r, share > 0 || amount > 0
}
