package archives

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// Varied is a job told again, as somebody else had it on another day.
type Varied struct {
	Plan []byte
	Job  *report.Job
}

// Vary tells a job again entry by entry, as commands would have made it: on a site, with
// plates and instruments of its own, on another day, and with every measured value a little
// off, the values of one line by the same share, so that what hangs on their differences
// stays. Every finding is judged again. The same number gives the same job. It takes jobs
// of one day that nobody signed.
//
// Errors: what the plan or an entry cannot be; a job of which something does not follow.
func Vary(text []byte, entries []chain.Entry, number int) (Varied, error) {
	p, err := plan.Load("plan.yaml", text)
	if err != nil {
		return Varied{}, err
	}
	v := varying{chance: rand.New(rand.NewPCG(uint64(number), 2)), was: entries[0].At.Format(time.DateOnly)}
	day := entries[0].At.AddDate(0, 0, -v.chance.IntN(20*365))
	v.is, v.back = day.Format(time.DateOnly), entries[0].At.Sub(day)
	text = []byte(strings.NewReplacer(renamed(p, number)...).Replace(string(text)))
	if v.plan, err = plan.Load("plan.yaml", text); err != nil {
		return Varied{}, err
	}
	first, err := v.first(entries[0], text, number)
	if err != nil {
		return Varied{}, err
	}
	if v.job, err = report.Fold(v.plan, []chain.Entry{first}); err != nil {
		return Varied{}, err
	}
	for _, e := range entries[1:] {
		if err := v.tell(e); err != nil {
			return Varied{}, fmt.Errorf("entry %d (%s %s): %w", e.Seq, e.Kind, e.Check, err)
		}
	}
	if faults := append(v.job.Differs, v.job.RuleFaults()...); len(faults) > 0 {
		return Varied{}, fmt.Errorf("job %d does not follow: %s", number, faults[0])
	}
	return Varied{text, v.job}, nil
}

// renamed are the names that a job of its own has, old and new in turn.
func renamed(p *plan.Plan, number int) []string {
	pairs := []string{"site: " + p.Site, fmt.Sprintf("site: Station %03d, %s", number%ownersSites, p.Site)}
	serial := func(was string, of int) {
		if was != "" {
			pairs = append(pairs, "serial: "+was, fmt.Sprintf("serial: %s-%d", was, of))
		}
	}
	for _, m := range p.Meters {
		serial(m.Serial, number%ownersInstruments)
	}
	for _, t := range p.Plant.Transformers {
		serial(t.Serial, number%ownersSites)
	}
	for _, b := range p.Plant.Boards {
		serial(b.Serial, number%ownersSites)
	}
	return pairs
}

type varying struct {
	chance  *rand.Rand
	was, is string // days
	back    time.Duration
	plan    *plan.Plan
	job     *report.Job
}

// first is the entry that opens the job, with a random text of its own.
func (v *varying) first(e chain.Entry, text []byte, number int) (chain.Entry, error) {
	var data map[string]any
	if err := json.Unmarshal(v.dated(e.Data), &data); err != nil {
		return chain.Entry{}, err
	}
	nonce := fmt.Sprintf("invented-nonce-%08d", number)
	data["nonce"], data["plan_hash"] = nonce, chain.HashPlan(text)
	canonical, err := chain.CanonicalObject(data)
	if err != nil {
		return chain.Entry{}, err
	}
	h := e.Head
	h.Prev, h.At = chain.Genesis(e.Job, nonce), e.At.Add(-v.back)
	return chain.EncodeEntry(h, canonical)
}

// dated puts the other day in the place of the day of the job.
func (v *varying) dated(data []byte) []byte {
	return []byte(strings.ReplaceAll(string(data), v.was+"T", v.is+"T"))
}

// tell adds an entry to the job as it would have been made now.
func (v *varying) tell(e chain.Entry) error {
	d := chain.Draft{At: e.At.Add(-v.back), By: e.By, Kind: e.Kind, Check: e.Check, Data: json.RawMessage(v.dated(e.Data))}
	e.Data = v.dated(e.Data)
	switch e.Kind {
	case report.EntryRead:
		r, err := report.Decode[report.Read](e)
		if err == nil {
			r.Answers, err = v.answers(e.Check, d.At, r.Answers)
		}
		if err != nil {
			return err
		}
		d.Data = r
	case report.EntryJudge:
		r, err := report.Decode[report.Judged](e)
		if err != nil {
			return err
		}
		s := v.job.State(e.Check)
		in := v.job.Input(s.Check, d.At)
		if s.Last().Judged {
			in = v.job.Again(s)
		}
		d.Data = report.NewJudged(s.Check.Kind, s.Last().Number, checks.Judge(in), r.Because)
	case report.EntrySign, report.EntryCorrect, report.EntryAttach:
		return fmt.Errorf("it is not told again")
	}
	sealed, err := chain.Seal(v.job.Head(), d)
	if err != nil {
		return err
	}
	return v.job.Add(sealed)
}

var decimal = regexp.MustCompile(`\d+\.\d+`)

// answers are those of a line with other values, or those of the line they were taken over from.
func (v *varying) answers(check string, at time.Time, was checks.Answers) (checks.Answers, error) {
	in := v.job.Input(v.plan.Check(check), at).With(was)
	share := 1 + 0.0005*v.chance.NormFloat64()
	out := checks.Answers{}
	for key, a := range was {
		f, ok := checks.FieldNamed(in.Form(), key)
		switch {
		case a.From != nil:
			from := v.taken(*a.From)
			from.From = a.From
			out[key] = from
			continue
		case !ok || f.Sort != checks.Measured || a.NotThere != "" || a.Bound != "":
			out[key] = a
			continue
		}
		typed := decimal.ReplaceAllStringFunc(a.Typed, func(text string) string {
			x, _ := strconv.ParseFloat(text, 64) // the pattern is one
			_, digits, _ := strings.Cut(text, ".")
			return strconv.FormatFloat(x*share, 'f', len(digits), 64)
		})
		is, err := checks.ParseAnswer(f, v.plan, typed, at)
		if err != nil {
			return nil, err
		}
		is.Kept = a.Kept
		out[key] = is
	}
	return out, nil
}

// taken is the answer that another check took over.
func (v *varying) taken(from checks.Origin) checks.Answer {
	for _, a := range v.job.State(from.Check).Attempts {
		for _, l := range a.Lines {
			if l.Seq == from.Entry {
				return l.Map()[from.Field]
			}
		}
	}
	return checks.Answer{}
}
