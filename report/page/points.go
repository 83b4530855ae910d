package page

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/scale"
)

// points are what an attempt was judged by, point by point, and what of it needs no row:
// readings that nothing is held against, and remarks that all of its points share.
type points struct {
	rows       []point
	read       []fact
	ofReadings string
	doubted    bool   // the uncertainty of some of its values is not known
	allDoubted string // how that of all values that are readings is not
}

// point is a row of a check's table.
type point struct {
	key                  string // the same in every attempt
	attempt              int
	name, value, against string // against a limit or an expectation
	expected             string // beside a limit that does not say as much
	share                cell
	verdict              checks.Verdict
	judged, read         bool // read: it is a reading that was judged as it was taken
	doubt, remark        string
	whole                bool // name is a sentence that needs the place of value and limit
}

// pointsOf takes an attempt apart. A value that is a reading as it was taken shares the
// reading's row. A reason that passed and is told by no row gets one of its own.
func pointsOf(a report.AttemptPage) points {
	var out points
	judged := map[string]bool{} // keys of values with a row
	shown := map[string]bool{}  // of readings with one
	for _, d := range a.Derived {
		if d.Limit == nil {
			continue
		}
		judged[d.Key] = true
		p := point{key: "value " + d.Key, attempt: a.Number, name: d.Name, value: valueText(d), against: d.LimitText(), share: shareCell(d), verdict: d.Verdict, judged: true,
			doubt: doubtOf(d), remark: chanceWords(d)}
		out.doubted = out.doubted || p.doubt != ""
		if r := readingOf(d, a); r != nil && !shown[r.Key] {
			shown[r.Key] = true
			p.shareRow(d, *r)
		}
		out.rows = append(out.rows, p)
	}
	marks := marksOf(a)
	var rest []report.AnswerLine
	for _, r := range a.Readings {
		switch {
		case shown[r.Key]:
		case r.Number && r.Expect != nil:
			v, judged := marks[r.Key]
			out.rows = append(out.rows, point{key: "reading " + r.Key, attempt: a.Number, name: r.Label, value: readText(r, a.When), against: expectedWords(r), verdict: v, judged: judged, remark: r.Remark})
		default:
			rest = append(rest, r)
		}
	}
	out.ofReadings = common(rest, func(r report.AnswerLine) string { return r.Remark }, func(r report.AnswerLine) bool { return r.Number })
	for _, r := range rest {
		f := fact{Label: r.Label, Text: readText(r, a.When)}
		if v, ok := marks[r.Key]; ok {
			f.Mark = v.String()
		}
		if r.Remark != "" && !(r.Number && r.Remark == out.ofReadings) {
			f.Text += " (" + r.Remark + ")"
		}
		out.read = append(out.read, f)
	}
	out.sayReasons(a, judged, marks)
	out.allDoubted = common(out.rows, func(p point) string { return p.doubt }, func(p point) bool { return p.read })
	for i, p := range out.rows {
		if !(p.read && p.doubt == out.allDoubted) {
			out.rows[i].remark = report.JoinWords(p.doubt, p.remark)
		}
	}
	return out
}

// common is what all of several have in common, "" where they differ or there is one.
func common[T any](all []T, of func(T) string, counts func(T) bool) string {
	words, n := "", 0
	for _, x := range all {
		if !counts(x) {
			continue
		}
		if n++; n > 1 && of(x) != words {
			return ""
		}
		words = of(x)
	}
	if n < 2 {
		return ""
	}
	return words
}

// readingOf is the reading that a value is, no more and no less; nil where it is more.
func readingOf(d checks.Derived, a report.AttemptPage) *report.AnswerLine {
	if d.Expr == nil || len(d.Expr.Readings()) != 1 {
		return nil
	}
	i := slices.IndexFunc(a.Readings, func(r report.AnswerLine) bool { return r.Key == d.Expr.Readings()[0] })
	if i < 0 || !a.Readings[i].Number {
		return nil
	}
	r := &a.Readings[i]
	base := r.Value
	if r.Unit != "" {
		base = quantity.ToBase(r.Value, r.Unit)
	}
	same := func(x float64) bool { return math.Abs(math.Abs(d.Value)-math.Abs(x)) <= 1e-12*math.Abs(x) }
	if same(base) || same(r.Value) {
		return r
	}
	return nil
}

// shareRow takes a reading into the row of the value that is it: how it was read where the
// value does not show that to its digits and in its unit, what it was expected to be where
// the limit does not say as much, and what became of it.
func (p *point) shareRow(d checks.Derived, r report.AnswerLine) {
	p.key, p.name, p.read = "reading "+r.Key, r.Label, true
	read := readText(r, "")
	shown, _, _ := strings.Cut(valueText(d), " ")
	if digits, _, _ := strings.Cut(read, " "); r.Unit != d.Unit || r.Bound != "" || digits != shown {
		p.remark = report.JoinWords(p.remark, "read "+read)
	}
	if r.Expect == nil || saysAsMuch(d.Limit, r.Expect) {
		p.remark = report.JoinWords(p.remark, r.Happened)
		return
	}
	p.expected, p.remark = expectedWords(r), report.JoinWords(p.remark, r.Remark)
}

// saysAsMuch tells whether a limit says all that an expectation does: of what cannot be
// negative the low end need not be told.
func saysAsMuch(l *checks.Limit, e *checks.Expect) bool {
	return l.High == e.High && (l.Low == e.Low || math.IsNaN(l.Low) && e.Low <= 0)
}

// marksOf are the verdicts of reasons that are about one answer and no value.
func marksOf(a report.AttemptPage) map[string]checks.Verdict {
	worst := map[string]checks.Verdict{}
	for _, r := range a.Reasons {
		key := soleField(r)
		if key == "" || len(valuesOf(r)) > 0 {
			continue
		}
		if was, ok := worst[key]; ok {
			worst[key] = checks.Worst(was, r.Verdict)
		} else {
			worst[key] = r.Verdict
		}
	}
	return worst
}

// soleField is the answer that a reason is about, "" where it is about none or several.
func soleField(r report.Reason) string {
	if len(r.Fields) != 1 {
		return ""
	}
	return r.Fields[0]
}

// valuesOf are the keys of the values that a reason names.
func valuesOf(r report.Reason) (keys []string) {
	for _, a := range r.Values {
		if a.Value.Of != "" {
			keys = append(keys, a.Value.Of)
		}
	}
	return keys
}

// sayReasons gives a row to each reason that passed and that neither a judged value nor a
// marked answer tells.
func (p *points) sayReasons(a report.AttemptPage, judged map[string]bool, marks map[string]checks.Verdict) {
	for i, r := range a.Reasons {
		told := slices.ContainsFunc(valuesOf(r), func(key string) bool { return judged[key] })
		if _, marked := marks[soleField(r)]; !told && marked {
			told = slices.ContainsFunc(a.Readings, func(l report.AnswerLine) bool { return l.Key == soleField(r) })
		}
		if !told && r.Verdict == checks.Pass {
			p.rows = append(p.rows, point{key: "reason " + strconv.Itoa(i), attempt: a.Number, name: r.Words, verdict: r.Verdict, judged: true, whole: true})
		}
	}
}

// shareCell is how far of its tolerance a value has used, drawn and told.
func shareCell(d checks.Derived) cell {
	return cell{Picture: toleranceBar(d), Text: scale.ShareOf(d).Words()}
}

// pointTable puts the points of all attempts in one table: what did not pass first, then in
// their order, every repeat below what it repeats. Columns that would stay empty are left
// out.
func pointTable(attempts []points) *table {
	var order []string
	groups := map[string][]point{}
	for _, a := range attempts {
		for _, pt := range a.rows {
			if groups[pt.key] == nil {
				order = append(order, pt.key)
			}
			groups[pt.key] = append(groups[pt.key], pt)
		}
	}
	against := func(key string) bool {
		return slices.ContainsFunc(groups[key], func(pt point) bool { return pt.judged && pt.verdict != checks.Pass })
	}
	slices.SortStableFunc(order, func(a, b string) int {
		if against(a) == against(b) {
			return 0
		}
		return map[bool]int{true: -1, false: 1}[against(a)]
	})
	labels := []string{"point|point"}
	if len(attempts) > 1 {
		labels = append(labels, "attempt|num")
	}
	t := newTable("Points", append(labels, "value|num tight", "limit or expectation|limit", "of tolerance|share", "verdict|verdict", "remark|remark kept-lines")...)
	for _, key := range order {
		for _, pt := range groups[key] {
			t.add(pt.cells(len(attempts) > 1)...)
		}
	}
	t.prune()
	return t.orNil()
}

func (pt point) cells(several bool) []cell {
	verdict := cell{}
	if pt.judged {
		verdict.Mark = pt.verdict.String()
	}
	if pt.whole && !several {
		return []cell{{Text: pt.name, Span: 4}, verdict, {}}
	}
	cells := []cell{text(pt.name)}
	if several {
		cells = append(cells, text(strconv.Itoa(pt.attempt)))
	}
	cells = append(cells, text(pt.value), below(pt.against, pt.expected))
	if !pt.judged { // an expectation has their room
		cells[len(cells)-1].Span = 3
		return append(cells, text(pt.remark))
	}
	return append(cells, pt.share, verdict, text(pt.remark))
}
