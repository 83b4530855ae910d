package cmd

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/records/archive"
	_ "handback/records/archive/postgres"
	"handback/testdata/archives"
	"handback/testdata/outside"
)

// Every command of an archive answers the same from PostgreSQL as from a folder, to the
// letter, from the first bag to what is left after one was reduced; and with its bags in a
// bucket.
func TestArchive_engines(t *testing.T) {
	outside.Long(t)
	p, objects := outside.NewPostgres(t), archives.NewObjects(t)
	book, in := bagsToAdd(t)
	dir := filepath.Dir(book)
	played := filepath.Join(dir, "played")
	demands(t, exitDone, book, "demo", "-o", played)
	demands(t, exitDone, filepath.Join(played, "book.db"), "pack", "t2-return-1", "-o", filepath.Join(in, "played.zip"))
	spoilt, err := os.ReadFile(filepath.Join(in, "other.zip"))
	if err == nil {
		err = os.WriteFile(filepath.Join(in, "spoilt.zip"), bytes.Replace(spoilt, []byte("bagit.txt"), []byte("bagit.tex"), 1), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	demands(t, exitDone, book, "key", "new", "-o", filepath.Join(dir, "log-key"), "--unprotected")
	p.SQL("public", "CREATE SCHEMA owner_1")
	p.SQL("public", "CREATE SCHEMA owner_2")
	places := []string{filepath.Join(dir, "owner"), p.URL("owner", "search_path=owner_1"), p.URL("owner", "search_path=owner_2")}
	names := []string{"folder", "server", "bucket"}
	url := objects.URL("owner")
	inBucket := regexp.MustCompile(`(?m)^bags in ` + regexp.QuoteMeta(url) + `\n|^  "bucket": "` + regexp.QuoteMeta(url) + `",\n`) // doctor names it
	when := regexp.MustCompile(`(?m)^\d+ of \d+ bags, .*\n`)                                                                       // progress hangs on the clock
	for _, line := range []string{
		"new --key KEY", "add IN", "add IN", "head --key KEY", "head --key KEY --json", "doctor", "doctor --json", "doctor --hashes",
		"find", "find --json", "find --verdict not-ready", "find --kind insulation --verdict pass", "find --text pump --forked", "find --person mira --defect-open",
		"show t2-return-1", "show t2-return-1 --json", "show --quarantine", "show --quarantine --json", "show nothing",
		"get t2-return-1 -o OUT/got.zip", "due", "due --json", "export -o OUT/csv", "export --lines -o OUT/lines",
		"trend T2/across/displacement", "trend T2/across/displacement --json", "trend T2", "recall TW-7518 --error -4%", "recall TW-7518 --error -4% --json", "recall TW-9",
		"prove t2-return-1 -o OUT/proof --key KEY", "keep", "keep --years 30 --by owner --why contract", "keep --json", "policy",
		"redact t2-return-1 --by owner --why a-name --find Mira", "redact t2-return-1 plan --by owner --why a-name --early --yes", "show t2-return-1", "doctor", "get t2-return-1 -o OUT/reduced.zip",
		"recall TW-7518 --error -4%", "find --json", "head --key KEY", "add IN", "doctor --json",
	} {
		said, status := make([]string, len(places)), make([]int, len(places))
		for i, place := range places {
			out := filepath.Join(dir, names[i])
			args := strings.Fields(strings.NewReplacer("KEY", filepath.Join(dir, "log-key"), "IN", in, "OUT", out).Replace("archive " + line))
			if err := os.MkdirAll(out, 0o700); err != nil {
				t.Fatal(err)
			}
			if names[i] == "bucket" && line == "new --key KEY" {
				args = append(args, "--bags", url)
			}
			var text string
			status[i], text = asks(t, book, append(args, "--archive", place)...)
			if found := inBucket.MatchString(text); found != (names[i] == "bucket" && strings.HasPrefix(line, "doctor")) {
				t.Errorf("%s, %s names a bucket: %v", names[i], line, found)
			}
			said[i] = when.ReplaceAllString(strings.NewReplacer("'"+place+"'", "ARCHIVE", place, "ARCHIVE", out, "OUT").Replace(inBucket.ReplaceAllString(text, "")), "")
		}
		for i := range said {
			if diff := cmp.Diff(said[0], said[i]); diff != "" || status[0] != status[i] {
				t.Errorf("%s: status %v (-folder +%s):\n%s", line, status, names[i], diff)
			}
		}
		if status[0] == exitUsage || status[0] == exitFailed && line != "show nothing" {
			t.Errorf("%s: %s", line, said[0]) // says nothing of engines
		}
	}
	for _, name := range names[1:] {
		if diff := cmp.Diff(treeOf(t, filepath.Join(dir, "folder")), treeOf(t, filepath.Join(dir, name))); diff != "" {
			t.Errorf("what was written (-folder +%s):\n%s", name, diff)
		}
	}
	if p.SQL("owner_2", "SELECT count(*) FROM files") != "0\n" {
		t.Error("bags lie in the data base too")
	}
	if is, all := objects.Keys(); len(is) < 3 || !slices.Equal(is, all) {
		t.Errorf("objects %q, with versions %q", is, all)
	}
}

// Twenty years of an owner are told alike by both engines: what is found by any question, the
// courses of values, and the states to judge again.
func TestArchive_enginesOwner(t *testing.T) {
	outside.Long(t)
	ctx := context.Background()
	p := outside.NewPostgres(t)
	p.SQL("public", "CREATE SCHEMA owner_1")
	real := playedRows(t, "feeder-cable", "motor-board")
	const jobs = 300
	var said [2]string
	for i, place := range []string{filepath.Join(t.TempDir(), "owner"), p.URL("owner", "search_path=owner_1")} {
		a, err := archive.Create(ctx, place, nil, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		takeOwner(t, a, archives.Owner(real, jobs))
		said[i] = ownerSays(t, a)
	}
	if diff := cmp.Diff(strings.Split(said[0], "\n"), strings.Split(said[1], "\n")); diff != "" {
		t.Errorf("-folder +server:\n%s", diff)
	}
}

// ownerSays is what an archive answers to questions of all sorts, none of which may find
// nothing.
func ownerSays(t *testing.T, a *archive.Archive) string {
	t.Helper()
	var b strings.Builder
	tell := func(what any, answers int) {
		if fmt.Fprintf(&b, "%+v: %d\n", what, answers); answers == 0 {
			t.Errorf("%+v finds nothing", what)
		}
	}
	ctx := context.Background()
	for _, q := range []archive.Query{{}, {Plant: "main"}, {Plant: "T2"}, {Serial: "BCW-21413-012"}, {Asset: "TH-TR-26-012"}, {Site: "station 012"}, {Firm: "fenmark"}, {From: "2012-01-01", To: "2013-12-31"},
		{Kind: "unbalance", Verdict: "fail"}, {Kind: "insulation"}, {Verdict: "ready"}, {Instrument: "TW-7518-12"}, {Person: "mira"}, {Text: "network operator"}, {Site: "tarnholt", Person: "Sandrell", Text: "pump"}} {
		n := 0
		for s, err := range a.Find(ctx, q) {
			if n++; err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%+v\n", s)
		}
		tell(q, n)
	}
	for _, c := range []archive.Course{{Plant: "BCW-21413-012"}, {Plant: "BCW-21413-012", Check: "volts-t2", Key: "volts_l1n"}, {Plant: "TH-TR-40-024", Check: "joints"}, {Plant: "T2", Site: "station 033"}, {Plant: "feeder-cable"}} {
		values, err := a.Values(ctx, c)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range values {
			fmt.Fprintf(&b, "%s %s %s %s %v %v\n", v.Job, v.Plant, v.Check, v.Key, pointed(v.Value), pointed(v.Uncertainty))
		}
		tell(c, len(values))
	}
	for _, span := range [][2]string{{"", ""}, {"2014-01-01", "2019-01-01"}} {
		used, err := a.UsedIn(ctx, "tw-7518-12", span[0], span[1])
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range used {
			fmt.Fprintf(&b, "%+v\n", u)
		}
		tell(span, len(used))
	}
	return b.String()
}

// pointed is a number, or that there is none.
func pointed(x *float64) any {
	if x == nil {
		return "none"
	}
	return *x
}
