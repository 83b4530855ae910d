package admit

import (
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/archive"
	"handback/report"
)

// Rows are what of a job goes into an archive, as it stands at its newest entry. doubts
// are what a policy says against signatures, by their entries.
func Rows(j *report.Job, checked []report.Checked, doubts map[int]string) *archive.Rows {
	r := &rows{j: j, at: j.Head().At, of: archive.Of{Job: j.Identifier(), Head: j.Head().Hash}, serials: map[string]string{}, uses: map[string]int{}}
	for _, u := range j.Uses() {
		r.serials[u.Meter] = u.Serial
		r.uses[u.Serial]++
	}
	for _, m := range j.Plan.Meters {
		r.serials[m.ID] = m.Serial
	}
	r.signatures(checked, doubts)
	r.state()
	r.plants()
	for i, s := range append(slices.Clone(j.States), j.TakenOut...) {
		r.check(i+1, s)
	}
	r.instruments()
	r.people()
	r.defects()
	r.words()
	r.out.Sort()
	return &r.out
}

type rows struct {
	j       *report.Job
	at      time.Time
	of      archive.Of
	serials map[string]string // of instruments, by id
	uses    map[string]int    // by serial number
	out     archive.Rows
}

func (r *rows) state() {
	j, head := r.j, r.j.Head()
	o := j.Overall(r.at)
	p := j.Plan
	var signed []string
	for _, s := range j.Signatures {
		good := slices.ContainsFunc(r.out.Signatures, func(x archive.Signature) bool { return x.Entry == s.Seq && x.Doubt == "" })
		if good && j.After(s) == 0 && !slices.Contains(signed, s.Statement.Role) {
			signed = append(signed, s.Statement.Role)
		}
	}
	slices.Sort(signed)
	r.out.States = []archive.State{{Of: r.of, ID: j.ID, Entries: head.Seq, Newest: true, Newests: 1, Plan: p.ID, PlanHash: j.PlanHash, Title: p.Title, Site: p.Site, Work: p.Work, Permit: p.Permit,
		Client: p.Client.Name, Firm: p.TestedBy.Name, Order: p.Order, Document: strings.TrimSpace(p.Document.Number + " " + p.Document.Revision),
		Opened: archive.Moment(j.OpenedAt), Last: archive.Moment(head.At), Verdict: o.Code, Standing: o.Words, Signed: strings.Join(signed, ", "), Program: j.Opened.Program}}
}

func (r *rows) plants() {
	add := func(id, sort, name string, x plan.Plate) {
		r.out.Plants = append(r.out.Plants, archive.Plant{Of: r.of, Plant: id, Sort: sort, Name: name, Maker: x.Maker, Plain: archive.Plainly(several(id, name, x.Maker)), Serial: x.Serial, Year: x.Year, Asset: x.Asset})
	}
	for _, t := range r.j.Plan.Plant.Transformers {
		add(t.ID, "transformer", t.Name, t.Plate)
	}
	for _, x := range r.j.Plan.Plant.Incomers {
		add(x.ID, "incomer", x.Name, x.Plate)
	}
	for _, b := range r.j.Plan.Plant.Boards {
		add(b.ID, "board", b.Name, b.Plate)
	}
}

// check adds a check with what was read and worked out for it.
func (r *rows) check(number int, s *report.State) {
	c := archive.Check{Of: r.of, Check: s.Check.ID, Number: number, Kind: s.Check.Kind.Name, Title: s.Check.Title, Place: s.Check.At,
		Verdict: s.Verdict().String(), Stands: r.j.StandsAt(s, r.at), Attempts: len(s.Attempts)}
	newest := s.LastJudged()
	if newest != nil {
		c.Judged = archive.Moment(newest.At)
	}
	r.out.Checks = append(r.out.Checks, c)
	for _, a := range s.Attempts {
		r.readings(s, a)
		if a.Judged {
			r.results(s, a, a == newest)
		}
	}
	for _, x := range s.Concessions {
		r.out.Concessions = append(r.out.Concessions, archive.Concession{Of: r.of, Entry: x.Seq, Check: s.Check.ID, Attempt: x.Attempt, Engineer: r.j.PersonName(x.Engineer),
			Given: archive.Moment(x.At), Verdict: x.Verdict.String(), Reason: x.Reason, Stands: x == s.Concession && c.Stands == report.StandsAccepted, Void: x.Void})
	}
}

// readings adds the numbers that were read in an attempt.
func (r *rows) readings(s *report.State, a *report.Attempt) {
	verdict := checks.Missing
	if a.Judged {
		verdict = a.Finding.Verdict
	}
	for _, g := range r.j.Given(s, a) {
		f, ans := g.Field, g.Answer
		if ans.NotThere != "" || f.Sort != checks.Measured && f.Sort != checks.Count {
			continue
		}
		of := quantity.QuantityOf(f.Unit)
		x := archive.Reading{Of: r.of, Check: s.Check.ID, Attempt: a.Number, Field: f.Key, Label: f.Label, Quantity: of, Unit: quantity.BaseUnit(of), Value: known(ans.Value), Bound: ans.Bound,
			Typed: ans.Typed, Taken: archive.Moment(a.First), Person: a.By, Verdict: verdict.String(), Newest: a == s.Last(), Entry: g.Entry}
		if f.Sort == checks.Count {
			x.Quantity, x.Unit = "", "1"
		}
		if used, ok := a.Answers[f.Meter]; ok && f.Meter != "" {
			x.Serial = r.serials[used.Word]
			x.MeterError = meterError(r.j.Plan.Meter(used.Word), of, ans.Value)
		}
		r.out.Readings = append(r.out.Readings, x)
	}
}

// meterError is the half-width of the error of an instrument at a value, nil where it is
// not known.
func meterError(m *plan.Meter, of string, value float64) *float64 {
	if m == nil {
		return nil
	}
	in, ok := m.RangeFor(of, value)
	if !ok {
		return nil
	}
	gain, span, step, ok := in.ErrorAt(value)
	if !ok {
		return nil
	}
	return known(gain + span + step)
}

// results adds the values that judging an attempt worked out.
func (r *rows) results(s *report.State, a *report.Attempt, newest bool) {
	in := r.j.InputOf(s, a)
	lapsed := newest && r.j.Lapsed(s) != ""
	for _, d := range a.Finding.Derived {
		x := archive.Result{Of: r.of, Check: s.Check.ID, Attempt: a.Number, Key: d.Key, Name: d.Name, Unit: d.Unit, Value: known(d.Value), Bound: d.Bound, Uncertainty: known(d.U), Standard: known(d.Standard),
			Lapsed: lapsed, Serial: r.serialOf(in, d), Rule: d.Rule, Verdict: checks.Missing.String(), Judged: archive.Moment(a.At), Newest: newest, Entry: a.Seq}
		if x.Unit == "" {
			x.Unit = "1"
		}
		if l := d.Limit; l != nil {
			x.Low, x.High, x.Source, x.Verdict = known(l.Low), known(l.High), l.Source, d.Verdict.String()
		}
		r.out.Results = append(r.out.Results, x)
	}
}

// serialOf is the serial number of the instrument that all readings of a value come from.
func (r *rows) serialOf(in checks.Input, d checks.Derived) string {
	forms := map[string][]checks.Field{}
	var serial string
	for _, key := range d.Expr.Readings() {
		check, field, earlier := strings.Cut(key, "/")
		answers := in.Answers
		if !earlier {
			check, field = "", key
		} else {
			answers = in.Came(check).Answers
		}
		if _, made := forms[check]; !made {
			form := in
			if earlier {
				form.Check, form.Answers, form.At = in.Plan.Check(check), answers, in.Came(check).At
			}
			forms[check] = form.Form()
		}
		f, _ := checks.FieldNamed(forms[check], field)
		is := r.serials[answers[f.Meter].Word]
		if is == "" || serial != "" && is != serial {
			return ""
		}
		serial = is
	}
	return serial
}

func (r *rows) instruments() {
	for _, m := range r.j.Plan.Meters {
		r.out.Instruments = append(r.out.Instruments, archive.Instrument{Of: r.of, Serial: m.Serial, Plain: plan.PlainSerial(m.Serial), Meter: m.ID, Name: m.Name, Certificate: m.Certificate, Due: archive.Day(m.Due), Uses: r.uses[m.Serial]})
	}
}

func (r *rows) people() {
	made := map[string]int{}
	for _, e := range r.j.Entries {
		made[e.By]++
	}
	for _, p := range r.j.Plan.People {
		r.out.People = append(r.out.People, archive.Person{Of: r.of, Person: p.ID, Name: p.Name, Plain: archive.Plainly(p.Name), Role: p.Role, Firm: p.Firm, Entries: made[p.ID]})
	}
}

func (r *rows) signatures(checked []report.Checked, doubts map[int]string) {
	for _, c := range checked {
		st, doubt := c.Statement, c.Doubt()
		for _, more := range []string{doubts[c.Seq], c.Untold} {
			if doubt == "" {
				doubt = more
			}
		}
		r.out.Signatures = append(r.out.Signatures, archive.Signature{Of: r.of, Entry: c.Seq, Person: st.Person, Name: st.Name, Plain: archive.Plainly(st.Name), Role: st.Role, Signed: archive.Moment(st.At), Covers: st.Entries, Key: c.Key, Doubt: doubt})
	}
}

func (r *rows) defects() {
	for _, d := range r.j.Defects {
		x := archive.Defect{Of: r.of, Number: d.Defect, What: d.What, Place: d.Where, Owner: d.Owner, Due: d.Due, Holds: d.Holds, Raised: archive.Moment(d.At), Entry: d.Seq}
		if d.Closed != nil {
			x.Closed, x.Done = archive.Moment(d.Closed.At), d.Closed.Done
		}
		r.out.Defects = append(r.out.Defects, x)
	}
}

// several are texts as one, without those that are not there.
func several(said ...string) string {
	return strings.Join(slices.DeleteFunc(said, func(s string) bool { return s == "" }), "; ")
}

// words adds what can be searched for.
func (r *rows) words() {
	j, p := r.j, r.j.Plan
	add := func(source string, entry int, said ...string) {
		text := several(said...)
		if text != "" {
			r.out.Texts = append(r.out.Texts, archive.Text{Of: r.of, Number: len(r.out.Texts) + 1, Source: source, Entry: entry, Said: text, Plain: archive.Plainly(text)})
		}
	}
	add(archive.FromTitle, 0, p.Title)
	site := several(p.Site, p.Address)
	add(archive.FromSite, 0, site)
	add(archive.FromWork, 0, p.Work, p.Permit, p.Order, p.Document.Number)
	add(archive.FromClient, 0, p.Client.Name)
	firms := []string{p.TestedBy.Name}
	for _, x := range p.People {
		if !slices.Contains(firms, x.Firm) {
			firms = append(firms, x.Firm)
		}
	}
	firm := several(firms...)
	add(archive.FromFirm, 0, firm)
	r.out.Searched = []archive.Searched{{Of: r.of, Site: archive.Plainly(site), Firm: archive.Plainly(firm)}}
	for _, x := range r.out.Plants {
		add(archive.FromPlant, 0, x.Plant, x.Name, x.Maker)
	}
	for _, x := range p.People {
		add(archive.FromPerson, 0, x.ID, x.Name, x.Firm)
	}
	for _, x := range r.out.Checks {
		add(archive.FromCheck, 0, x.Title, x.Place)
	}
	for _, n := range j.Notes {
		add(archive.FromNote, n.Seq, n.Text)
	}
	for _, d := range r.out.Defects {
		add(archive.FromDefect, d.Entry, d.What, d.Place, d.Owner, d.Done)
	}
	for _, c := range r.out.Concessions {
		add(archive.FromConcession, c.Entry, c.Reason)
	}
	for _, m := range j.Remarks {
		add(archive.FromRemark, m.Seq, m.Text)
	}
}

// known is x, nil for what is no number.
func known(x float64) *float64 {
	if !quantity.Finite(x) {
		return nil
	}
	return &x
}
