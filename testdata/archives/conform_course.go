package archives

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/records/archive"
)

// many are states of sixty jobs, overtaken ones and forks among them, and those of them that
// are the newest.
func many() (all []Fake, newest []Fake) {
	for i := range 60 {
		all, newest = append(all, Fake{i, "a"}, Fake{i, "abc"}), append(newest, Fake{i, "abc"})
		if i%5 == 0 {
			all, newest = append(all, Fake{i, "abd"}), append(newest, Fake{i, "abd"})
		}
	}
	return all, newest
}

// course holds the values of pieces of plant against a plain reading of the rows.
func course(t *testing.T, a *archive.Archive) {
	all, newest := many()
	take(t, a, all...)
	hits := 0
	for _, plant := range []string{"T1", "T2", "BCW-2", "TH-3", "plan-1", "T"} {
		for _, check := range []string{"", "check-0", "check-2", "check"} {
			for _, key := range []string{"", "volts", "amps"} {
				c := archive.Course{Plant: plant, Check: check, Key: key, Site: map[bool]string{true: "100 % HOUSE_b"}[plant == "T2"]}
				var want []archive.CourseValue
				for _, f := range newest {
					want = append(want, valuesOf(c, f.Rows())...)
				}
				slices.SortFunc(want, func(x, y archive.CourseValue) int {
					return cmpOr(strings.Compare(x.Judged, y.Judged), strings.Compare(x.Job, y.Job), strings.Compare(x.Head, y.Head), strings.Compare(x.Check, y.Check), strings.Compare(x.Plant, y.Plant))
				})
				got, err := a.Values(ctx, c)
				if err != nil {
					t.Fatal(err)
				}
				hits += len(want)
				if diff := cmp.Diff(want, got); diff != "" {
					t.Fatalf("%+v (-want +got):\n%s", c, diff)
				}
			}
		}
	}
	if hits < 100 {
		t.Errorf("%d values were found: that tells nothing", hits)
	}
}

// valuesOf are the values of a course in the rows of a state.
func valuesOf(c archive.Course, r *archive.Rows) (out []archive.CourseValue) {
	s := r.States[0]
	if !strings.Contains(archive.Plainly(s.Site), archive.Plainly(c.Site)) {
		return nil
	}
	meant := []archive.Plant{}
	for _, p := range r.Plants {
		if c.Plant == p.Plant || c.Plant == p.Serial || c.Plant == p.Asset {
			meant = append(meant, p)
		}
	}
	if c.Plant == s.Plan {
		meant = append(meant, archive.Plant{})
	}
	for _, p := range meant {
		for _, v := range r.Results {
			if !v.Newest || c.Check != "" && c.Check != v.Check || c.Key != "" && c.Key != v.Key {
				continue
			}
			i := slices.IndexFunc(r.Checks, func(x archive.Check) bool { return x.Check == v.Check })
			out = append(out, archive.CourseValue{Result: v, ID: s.ID, Plan: s.Plan, Site: s.Site, Plant: p.Plant, PlantSerial: p.Serial,
				Kind: r.Checks[i].Kind, Place: r.Checks[i].Place, CheckVerdict: r.Checks[i].Verdict})
		}
	}
	return out
}

// used holds the states that an instrument was used in against a plain reading of the rows.
func used(t *testing.T, a *archive.Archive) {
	all, newest := many()
	take(t, a, all...)
	hits := 0
	for _, serial := range []string{"tw-0", "tw-1", "tw-9", ""} {
		for _, span := range [][2]string{{"", ""}, {"2015-01-01T00:00:00.000Z", ""}, {"", "2015-01-01T00:00:00.000Z"}, {"2014-01-01T00:00:00.000Z", "2016-01-01T00:00:00.000Z"}} {
			var want, got []string
			for _, f := range newest {
				r := f.Rows()
				s := r.States[0]
				if s.Last < span[0] || span[1] != "" && s.Opened >= span[1] {
					continue
				}
				if slices.ContainsFunc(r.Instruments, func(i archive.Instrument) bool { return i.Uses > 0 && strings.ToLower(i.Serial) == serial }) {
					want = append(want, s.Opened+" "+s.Job+" "+s.Head)
				}
			}
			slices.Sort(want)
			list, err := a.UsedIn(ctx, serial, span[0], span[1])
			if err != nil {
				t.Fatal(err)
			}
			for _, u := range list {
				got = append(got, u.Opened+" "+u.Job+" "+u.Head)
				if b, err := a.ByHead(ctx, u.Head); err != nil || b.SHA256 != u.Bag.SHA256 || b.Head != u.Head {
					t.Errorf("the bag of %.8s is %.8s of %.8s: %v", u.Head, u.Bag.SHA256, b.Head, err)
				}
			}
			hits += len(want)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Fatalf("%q in %v (-want +got):\n%s", serial, span, diff)
			}
		}
	}
	if hits < 50 {
		t.Errorf("%d states were found: that tells nothing", hits)
	}
}
