// Package legend lets a bag explain itself to who has nothing but the bag, in decades: how
// its record is read, in words and as JSON Schemas, and what it was made with. All of it is
// rendered from what the program itself goes by: the types of entries, the table of units,
// the rules of judgement, the kinds of checks with their words, the forms and limits of the
// job.
package legend

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records/chain"
	"handback/report"
	"handback/report/schema"
	"handback/templates"
)

// Files of a legend.
const (
	Reading          = "HOW-TO-READ.txt"
	EntrySchema      = "entry.schema.json"
	PlanSchema       = "plan.schema.json"
	HandoverSchema   = "handover.schema.json"
	StatementSchema  = "statement.schema.json"
	AcceptanceSchema = "acceptance.schema.json"
)

// Files are the legend of a job, by name. The same job gives the same bytes.
func Files(j *report.Job) (map[string][]byte, error) {
	out := map[string][]byte{}
	kinds := kindsOf(j)
	texts := map[string]func() ([]byte, error){
		EntrySchema: schema.Entry,
		PlanSchema:  func() ([]byte, error) { return plan.SchemaFor(schema.ID("plan-of-kinds"), kinds) },
	}
	for _, n := range schema.Record {
		texts[n.Name+".schema.json"] = n.Text
	}
	for name, text := range texts {
		long, err := text()
		if err != nil {
			return nil, err
		}
		var short bytes.Buffer
		if err := json.Compact(&short, long); err != nil {
			return nil, err
		}
		out[name] = append(short.Bytes(), '\n')
	}
	read, err := reading(j, kinds, out)
	out[Reading] = []byte(read)
	return out, err
}

// states are the checks of a job, those that amendments took out last.
func states(j *report.Job) []*report.State { return slices.Concat(j.States, j.TakenOut) }

// kindsOf are the kinds of the checks of a job, in the order of the plan, those of every
// version of it.
func kindsOf(j *report.Job) []string {
	out := []string{}
	add := func(c *plan.Check) {
		if !slices.Contains(out, c.Kind.Name) {
			out = append(out, c.Kind.Name)
		}
	}
	for _, s := range states(j) {
		add(s.Check)
	}
	hashes := []string{j.PlanHash}
	for _, a := range j.Amendments {
		hashes = append(hashes, a.Amended.PlanHash)
	}
	for _, hash := range hashes {
		for _, c := range j.PlanOf(hash).Checks() {
			add(c)
		}
	}
	return out
}

// told is what the template of the reading places. Tables come laid out.
type told struct {
	Job, Title, Head               string
	Count                          int
	Members, Units                 string
	Entries, Parts, Signed         []part
	Rule, Weighs                   string
	Comparisons                    []comparison
	Closed, Open                   string // the verdict on the job
	Kinds                          []kind
	Signs                          bool
	Namespace, AcceptanceNamespace string
	Deferral                       string
}

func reading(j *report.Job, kinds []string, schemas map[string][]byte) (string, error) {
	head := j.Head()
	t := told{Job: j.ID, Title: report.Flat(j.Plan.Title), Head: head.Hash, Count: head.Seq, Units: units(), Rule: report.RuleWords(j.Plan.Rule),
		Weighs: weighs(), Comparisons: comparisons(j), Closed: overall(0), Open: overall(1), Signs: len(j.Signatures) > 0 || j.SignsAcceptances(),
		Namespace: chain.StatementNamespace, AcceptanceNamespace: chain.AcceptanceNamespace, Deferral: report.Deferral}
	parts, err := partsOf(j, schemas)
	if err != nil {
		return "", err
	}
	t.Members, t.Entries, t.Parts, t.Signed = parts.members, parts.entries, parts.inner, parts.signed
	for _, name := range kinds {
		k, err := kindOf(j, name)
		if err != nil {
			return "", err
		}
		t.Kinds = append(t.Kinds, k)
	}
	text, err := templates.Report("how-to-read", t, nil)
	return strings.TrimLeft(text, "\n"), err
}

// units is the table of units, a unit a line.
func units() string {
	also := map[string][]string{}
	for typed, unit := range quantity.Spellings {
		if typed != unit {
			also[unit] = append(also[unit], typed)
		}
	}
	rows := [][]string{{"unit", "quantity", "base unit", "factor", "offset", "also typed"}}
	for _, u := range quantity.Units {
		slices.Sort(also[u.Symbol])
		rows = append(rows, []string{u.Symbol, u.Of, quantity.BaseUnit(u.Of), number(u.Factor), number(u.Offset), strings.Join(also[u.Symbol], ", ")})
	}
	return columns(2, rows)
}

// number writes a number so that it is read back as the same.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// weighs orders the verdicts of parts as a finding takes them: the first that is there is
// its own.
func weighs() string {
	all := []checks.Verdict{checks.Missing, checks.Pass, checks.Inconclusive, checks.Fail, checks.Void}
	slices.SortFunc(all, func(a, b checks.Verdict) int {
		if a != b && checks.Worst(a, b) == a {
			return -1
		}
		return 1
	})
	var out []string
	for _, v := range all {
		out = append(out, v.String())
	}
	return strings.Join(out, ", ")
}

// overall is how the verdict on a job is chosen with so many hold points or other points
// against it.
func overall(against int) string {
	choice := report.OverallBy(0, against, func(code string) string { return code })
	return formula(choice.Formula(func(name string) string { return name }))
}
