package archives

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"handback/records/archive"
)

var (
	ctx = context.Background()
	now = time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
)

// TB is what both a test and a drawn case of one are.
type TB interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// Conform holds a way to keep archives to what all of them are held to. empty makes a new
// archive that is closed by itself.
func Conform(t *testing.T, empty func(TB) *archive.Archive) {
	t.Run("outcomes", func(t *testing.T) { outcomes(t, empty(t)) })
	t.Run("order", func(t *testing.T) {
		one, two, draws := empty(t), empty(t), 0
		rapid.Check(t, func(t *rapid.T) {
			if draws++; testing.Short() && draws%8 != 1 {
				return
			}
			order(t, one, two, draws*10)
		})
	})
	t.Run("rows", func(t *testing.T) { roundTrip(t, empty(t)) })
	t.Run("texts", func(t *testing.T) { texts(t, empty(t)) })
	t.Run("find", func(t *testing.T) { find(t, empty(t)) })
	t.Run("course", func(t *testing.T) { course(t, empty(t)) })
	t.Run("used", func(t *testing.T) { used(t, empty(t)) })
	t.Run("due", func(t *testing.T) { due(t, empty(t)) })
	t.Run("quarantine", func(t *testing.T) { refused(t, empty(t)) })
	t.Run("policy", func(t *testing.T) { policy(t, empty(t)) })
	t.Run("names", func(t *testing.T) { byName(t, empty(t)) })
	t.Run("together", func(t *testing.T) { together(t, empty(t)) })
}

// take takes states in one go.
func take(t TB, a *archive.Archive, fakes ...Fake) []string {
	t.Helper()
	var takings []archive.Taking
	for _, f := range fakes {
		x, err := f.Taking(a)
		if err != nil {
			t.Fatal(err)
		}
		takings = append(takings, x)
	}
	out, err := a.Take(ctx, now, takings...)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range takings {
		x.Drop()
	}
	return out
}

// outcomes follows one job through all that may become of a bag.
func outcomes(t *testing.T, a *archive.Archive) {
	got := take(t, a, Fake{1, "abc"}, Fake{1, "abc"}, Fake{1, "abcd"}, Fake{1, "a"}, Fake{1, "abx"}, Fake{1, "ab"}, Fake{1, "abxy"}, Fake{2, "abc"})
	want := []string{archive.New, archive.Known, archive.Follows, archive.Earlier, archive.Fork, archive.Earlier, archive.Follows, archive.New}
	if !slices.Equal(got, want) {
		t.Errorf("became %v, want %v", got, want)
	}
	j, err := a.Job(ctx, Fake{1, "a"}.Job())
	if err != nil {
		t.Fatal(err)
	}
	newest := map[string]bool{Fake{1, "abcd"}.Head(): true, Fake{1, "abxy"}.Head(): true}
	for i, s := range j.States {
		if s.Newest != newest[s.Head] || j.Bags[i].Head != s.Head {
			t.Errorf("state %d of %d entries, head %.8s: newest is %v", i, s.Entries, s.Head, s.Newest)
		}
		is := s
		if is.Newest, is.Newests = !is.Newest, 0; s.Newests != len(newest) || a.Settle(ctx, j.Bags[i], &is) != nil || is != s {
			t.Errorf("by the bags alone state %d is the newest: %v of %d, and not %v of %d", i, is.Newest, is.Newests, s.Newest, s.Newests)
		}
		rows, err := a.RowsOf(ctx, s.Job, s.Head)
		if err != nil || (len(rows.Checks) > 0) != s.Newest {
			t.Errorf("state %d has rows of %d checks: %v", i, len(rows.Checks), err)
		}
	}
	if len(j.States) != 6 || len(j.Newest()) != 2 {
		t.Errorf("%d states, %d of them newest", len(j.States), len(j.Newest()))
	}
	for i, f := range []Fake{{1, "a"}, {1, "ab"}} {
		path, _, err := a.File(ctx, j.Bags[i])
		data, failed := os.ReadFile(path)
		a.Release(path)
		if err = errors.Join(err, failed); err != nil || !bytes.Equal(data, f.Bytes()) {
			t.Errorf("bag %d holds %q: %v", i, data, err)
		}
	}
}

// order takes states of jobs that neither archive has into both, in any order and any
// portions, some twice: the same comes of it.
func order(t *rapid.T, one, two *archive.Archive, seed int) {
	var fakes []Fake
	for range rapid.IntRange(1, 9).Draw(t, "states") {
		fakes = append(fakes, Fake{seed + rapid.IntRange(1, 3).Draw(t, "job"), "a" + rapid.StringMatching(`[ab]{0,4}`).Draw(t, "path")})
	}
	mixed := rapid.Permutation(fakes).Draw(t, "order")
	mixed = append(mixed, mixed[:rapid.IntRange(0, len(mixed)).Draw(t, "again")]...)
	take(t, one, fakes...)
	for len(mixed) > 0 {
		n := rapid.IntRange(1, len(mixed)).Draw(t, "portion")
		take(t, two, mixed[:n]...)
		mixed = mixed[n:]
	}
	for _, f := range fakes {
		if diff := cmp.Diff(held(t, one, f.Job()), held(t, two, f.Job())); diff != "" {
			t.Fatalf("it hangs on the order (-one +other):\n%s", diff)
		}
	}
}

// held is all that an archive holds of a job but for the order it came in.
func held(t TB, a *archive.Archive, id string) (out []any) {
	t.Helper()
	j, err := a.Job(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range j.Bags {
		b.Number = 0
		rows, err := a.RowsOf(ctx, b.Job, b.Head)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, b, j.States[i], rows)
	}
	return out
}

// roundTrip gets back what was put in, to the last digit and sign.
func roundTrip(t *testing.T, a *archive.Archive) {
	for i := range 40 {
		f := Fake{i, "abc"}
		take(t, a, f)
		got, err := a.RowsOf(ctx, f.Job(), f.Head())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(f.Rows(), got); diff != "" {
			t.Fatalf("%v (-put +got):\n%s", f, diff)
		}
		b, err := a.State(ctx, f.Head())
		other := f.Rows()
		other.Checks = nil
		if err == nil {
			err = a.Renew(ctx, b, other)
		}
		if err != nil {
			t.Fatal(err)
		}
		if got, err = a.RowsOf(ctx, f.Job(), f.Head()); err != nil || !slices.Equal(got.Differ(f.Rows()), []string{"checks"}) {
			t.Fatalf("rows that were renewed differ in %v: %v", got.Differ(f.Rows()), err)
		}
	}
}

func refused(t *testing.T, a *archive.Archive) {
	f := Fake{1, "abc"}
	bar := func(reasons ...string) string {
		x, err := f.Taking(a)
		if err != nil {
			t.Fatal(err)
		}
		defer x.Drop()
		x.Rows, x.Reasons, x.Job, x.ID = nil, reasons, f.Job(), "t2"
		out, err := a.Take(ctx, now, x)
		if err != nil {
			t.Fatal(err)
		}
		return out[0]
	}
	for _, reasons := range [][]string{{"one", "two"}, {"one", "two"}, {"three"}} {
		if got := bar(reasons...); got != archive.Barred {
			t.Errorf("it became %s", got)
		}
	}
	var got []string
	for r, err := range a.Quarantine(ctx, "t2") {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, r.Reasons)
		path, err := a.RefusedFile(ctx, r)
		if err != nil {
			t.Fatal(err)
		}
		if hash, err := archive.Rehash(path); err != nil || hash != r.SHA256 {
			t.Errorf("the file is %s: %v", hash, err)
		}
		a.Release(path)
	}
	if !slices.Equal(got, []string{"one\ntwo", "three"}) {
		t.Errorf("quarantine holds %q", got)
	}
	for x, err := range a.Find(ctx, archive.Query{}) {
		t.Errorf("found %v: %v", x, err)
	}
	if _, found, err := a.ByHash(ctx, strings.Repeat("0", 64)); found || err != nil {
		t.Errorf("a hash of nothing is there: %v", err)
	}
	if got := take(t, a, f); got[0] != archive.New {
		t.Errorf("taken later it became %s", got)
	}
}

func policy(t *testing.T, a *archive.Archive) {
	if parts, n, err := a.Policy(ctx); len(parts) > 0 || n != 0 || err != nil {
		t.Errorf("a new archive has policy %d of %d parts: %v", n, len(parts), err)
	}
	for i := range 2 {
		part := archive.Part{Part: archive.PartPolicy, Name: "intake.yaml", Body: fmt.Appendf(nil, "clock_ahead: %dm\n", i+1)}
		if err := a.SetPolicy(ctx, []archive.Part{part}, now); err != nil {
			t.Fatal(err)
		}
		parts, n, err := a.Policy(ctx)
		if err != nil || n != i+1 || len(parts) != 1 || !bytes.Equal(parts[0].Body, part.Body) {
			t.Errorf("policy %d: %v: %v", n, parts, err)
		}
	}
	if parts, err := a.PolicyOf(ctx, 1); err != nil || len(parts) != 1 || !bytes.Contains(parts[0].Body, []byte("1m")) {
		t.Errorf("policy 1 is %v: %v", parts, err)
	}
}

// together takes bags from several sides at once.
func together(t *testing.T, a *archive.Archive) {
	const sides, each = 4, 5
	failed := make(chan error, sides)
	for side := range sides {
		go func() {
			for i := range each {
				x, err := Fake{i, "abcdefgh"[:2+side]}.Taking(a)
				if err == nil {
					_, err = a.Take(ctx, now, x)
					x.Drop()
				}
				if err != nil {
					failed <- err
					return
				}
			}
			failed <- nil
		}()
	}
	for range sides {
		if err := <-failed; err != nil {
			t.Error(err)
		}
	}
	n := 0
	for b, err := range a.Bags(ctx, 1) {
		if n++; err != nil || b.Number != n {
			t.Fatalf("bag %d has number %d: %v", n, b.Number, err)
		}
	}
	if n != sides*each {
		t.Errorf("%d bags are there", n)
	}
}
