package archives

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"handback/records/archive"
)

// find holds drawn queries against a plain reading of the rows.
func find(t *testing.T, a *archive.Archive) {
	all := map[string]*archive.Rows{}
	var fakes []Fake
	newests := map[string]int{}
	for i := range 60 {
		f := Fake{i, "abc"}
		fakes = append(fakes, Fake{i, "a"}, f) // the first is overtaken
		all[f.Head()] = f.Rows()
		newests[f.Job()]++
		if i%5 == 0 {
			g := Fake{i, "abd"}
			fakes = append(fakes, g)
			all[g.Head()] = g.Rows()
			newests[g.Job()]++
		}
	}
	take(t, a, fakes...)
	hits := 0
	rapid.Check(t, func(t *rapid.T) {
		q := drawQuery(t)
		var want []archive.State
		for _, r := range all {
			if s := r.States[0]; matches(q, r, newests[s.Job]) {
				s.Newests = newests[s.Job]
				want = append(want, s)
			}
		}
		slices.SortFunc(want, func(x, y archive.State) int {
			return cmpOr(strings.Compare(y.Last, x.Last), strings.Compare(x.Job, y.Job), strings.Compare(x.Head, y.Head))
		})
		var got []archive.State
		for f, err := range a.Find(ctx, q) {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, f)
		}
		hits += len(want)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%+v (-want +got):\n%s", q, diff)
		}
	})
	if hits < 20 {
		t.Errorf("the queries found %d states: that tells nothing", hits)
	}
}

func cmpOr(of ...int) int {
	for _, c := range of {
		if c != 0 {
			return c
		}
	}
	return 0
}

func drawQuery(t *rapid.T) archive.Query {
	var q archive.Query
	draw := func(to *string, name string, of ...string) {
		if rapid.IntRange(0, 6).Draw(t, name+" asked") == 0 {
			*to = rapid.SampledFrom(of).Draw(t, name)
		}
	}
	draw(&q.Plant, "plant", "T1", "T2", "TRANSformer", "loadbank")
	draw(&q.Serial, "serial", "BCW-1", "BCW-2", "bcw-2")
	draw(&q.Asset, "asset", "TH-0", "TH-3")
	draw(&q.Site, "site", "tarnholt", "öresBRUK", "100 %", "house_b", "house%b", "1_0", `\`)
	draw(&q.Firm, "firm", "fenmark", "panels")
	day := Fake{rapid.IntRange(0, 59).Draw(t, "of"), "abc"}.Rows().States[0].Last[:10] // a day that counts itself
	draw(&q.From, "from", "2012-01-01", day)
	draw(&q.To, "to", "2022-06-15", day)
	draw(&q.Kind, "kind", kinds...)
	if q.Kind != "" {
		draw(&q.Verdict, "verdict", verdicts...)
	} else {
		draw(&q.Verdict, "verdict", overall...)
	}
	draw(&q.Instrument, "instrument", "TW-0", "TW-1")
	draw(&q.Person, "person", "p0", "p1", "jonas", "LINDQÅR")
	draw(&q.Text, "text", "sticks at 50 %", "weir,   100", "sandrell")
	q.DefectOpen = rapid.IntRange(0, 6).Draw(t, "open") == 0
	q.Forked = rapid.IntRange(0, 6).Draw(t, "forked") == 0
	return q
}

// matches is what a query means, row by row.
func matches(q archive.Query, r *archive.Rows, newests int) bool {
	words := func(source, want string) bool {
		return slices.ContainsFunc(r.Texts, func(x archive.Text) bool {
			return (source == "" || x.Source == source) && strings.Contains(x.Plain, archive.Plainly(want))
		})
	}
	plant := func(of func(archive.Plant) string, want string) bool {
		return slices.ContainsFunc(r.Plants, func(p archive.Plant) bool { return of(p) == want })
	}
	s := r.States[0]
	person := slices.ContainsFunc(r.People, func(p archive.Person) bool {
		return p.Entries > 0 && (p.Person == q.Person || strings.Contains(p.Plain, archive.Plainly(q.Person)))
	}) || slices.ContainsFunc(r.Signatures, func(x archive.Signature) bool {
		return x.Person == q.Person || strings.Contains(x.Plain, archive.Plainly(q.Person))
	})
	kind := slices.ContainsFunc(r.Checks, func(c archive.Check) bool { return c.Kind == q.Kind && (q.Verdict == "" || c.Verdict == q.Verdict) })
	return (q.Plant == "" || plant(func(p archive.Plant) string { return p.Plant }, q.Plant) || words(archive.FromPlant, q.Plant)) &&
		(q.Serial == "" || plant(func(p archive.Plant) string { return p.Serial }, q.Serial)) &&
		(q.Asset == "" || plant(func(p archive.Plant) string { return p.Asset }, q.Asset)) &&
		(q.Site == "" || words(archive.FromSite, q.Site)) && (q.Firm == "" || words(archive.FromFirm, q.Firm)) && (q.Text == "" || words("", q.Text)) &&
		(q.From == "" || s.Last[:10] >= q.From) && (q.To == "" || s.Last[:10] <= q.To) &&
		(q.Kind == "" || kind) && (q.Kind != "" || q.Verdict == "" || s.Verdict == q.Verdict) &&
		(q.Instrument == "" || slices.ContainsFunc(r.Instruments, func(m archive.Instrument) bool { return m.Serial == q.Instrument && m.Uses > 0 })) &&
		(q.Person == "" || person) && (!q.Forked || newests > 1) &&
		(!q.DefectOpen || slices.ContainsFunc(r.Defects, func(d archive.Defect) bool { return d.Closed == "" }))
}

// due holds what is open against a plain reading of the rows.
func due(t *testing.T, a *archive.Archive) {
	var all []*archive.Rows
	for i := range 60 {
		f := Fake{i, "abc"}
		take(t, a, Fake{i, "ab"}, f)
		all = append(all, f.Rows())
	}
	var soaks, defects, concessions, instruments []string
	for _, r := range all {
		s := r.States[0]
		for _, c := range r.Checks {
			if c.Kind == "soak" && (c.Stands == "open" || c.Stands == "stop") {
				soaks = append(soaks, s.Head+c.Check)
			}
		}
		for _, d := range r.Defects {
			if d.Closed == "" {
				defects = append(defects, d.Due+s.Head)
			}
		}
		for _, i := range r.Instruments {
			if i.Uses > 0 && i.Due != "" && s.Last >= lately {
				instruments = append(instruments, i.Due+s.Head+i.Serial)
			}
		}
		for _, c := range r.Concessions {
			followed := slices.ContainsFunc(all, func(n *archive.Rows) bool {
				is := n.States[0]
				return is.Plan == s.Plan && is.Site == s.Site && is.Last > s.Last && slices.ContainsFunc(n.Checks, func(k archive.Check) bool { return k.Check == c.Check && k.Verdict == "pass" })
			})
			if c.Stands && !followed {
				concessions = append(concessions, s.Head+c.Check)
			}
		}
	}
	got := gathered(t, a)
	if d := got["defects"]; len(d) == 0 || !strings.HasPrefix(d[0], "2024-01-31") || strings.HasPrefix(d[len(d)-1], "2024") {
		t.Errorf("defects are not listed by the day they are due: %q", d)
	}
	for name, want := range map[string][]string{"soaks": soaks, "defects": defects, "concessions": concessions, "instruments": instruments} {
		slices.Sort(want)
		slices.Sort(got[name])
		if diff := cmp.Diff(want, got[name]); diff != "" || len(want) == 0 {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// gathered are the things that an archive says are open.
func gathered(t *testing.T, a *archive.Archive) map[string][]string {
	got := map[string][]string{}
	last := ""
	for x, err := range a.OpenChecks(ctx, "soak", "open", "stop") {
		if err != nil || x.Last < last {
			t.Fatalf("%v comes after %s: %v", x, last, err)
		}
		last = x.Last
		got["soaks"] = append(got["soaks"], x.Row.Head+x.Row.Check)
	}
	for x, err := range a.OpenDefects(ctx) {
		if err != nil {
			t.Fatal(err)
		}
		got["defects"] = append(got["defects"], x.Row.Due+x.Row.Head)
	}
	for x, err := range a.OpenConcessions(ctx, "pass") {
		if err != nil {
			t.Fatal(err)
		}
		got["concessions"] = append(got["concessions"], x.Row.Head+x.Row.Check)
	}
	for x, err := range a.UsedInstruments(ctx, lately) {
		if err != nil {
			t.Fatal(err)
		}
		got["instruments"] = append(got["instruments"], x.Row.Due+x.Row.Head+x.Row.Serial)
	}
	return got
}

// lately is when an instrument must have been used last.
const lately = "2015-01-01T00:00:00.000Z"

// byName finds states by what they are called.
func byName(t *testing.T, a *archive.Archive) {
	take(t, a, Fake{1, "ab"}, Fake{1, "abc"}, Fake{2, "ab"}, Fake{8, "ab"}, Fake{3, "ab"}, Fake{3, "ac"})
	for name, want := range map[string]Fake{
		Fake{1, "a"}.Job(): {1, "abc"}, Fake{1, "a"}.Job()[:8]: {1, "abc"}, Fake{1, "ab"}.Head(): {1, "ab"}, Fake{1, "ab"}.Head()[:9]: {1, "ab"},
		"job-2": {2, "ab"}, Fake{3, "ac"}.Head(): {3, "ac"},
	} {
		if b, err := a.State(ctx, name); err != nil || b.Head != want.Head() {
			t.Errorf("%s is %.8s, want %v: %v", name, b.Head, want, err)
		}
	}
	for name, want := range map[string]error{"job-1": archive.ErrSeveral, "job-3": archive.ErrSeveral, "job-5": archive.ErrNoJob, Fake{1, "a"}.Job()[:7]: archive.ErrNoJob, "": archive.ErrNoJob, "%": archive.ErrNoJob} {
		if _, err := a.State(ctx, name); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", name, err, want)
		}
	}
}
