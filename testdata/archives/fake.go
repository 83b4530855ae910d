package archives

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"handback/records/archive"
)

// Fake is a state of a made-up job: a path in a tree of entries, of which only the hashes
// are made. Two of them with the same letters in front share their entries.
type Fake struct {
	Seed int
	Path string // a letter an entry
}

// Hashes are those of its entries, each of all entries up to it.
func (f Fake) Hashes() []string {
	var out []string
	for i := range f.Path {
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", f.Seed, f.Path[:i+1]))
		out = append(out, hex.EncodeToString(sum[:]))
	}
	return out
}

// Job is the identifier of its job.
func (f Fake) Job() string { return f.Hashes()[0] }

// Head is the hash of its newest entry.
func (f Fake) Head() string { h := f.Hashes(); return h[len(h)-1] }

// Bytes stand for its bag.
func (f Fake) Bytes() []byte { return fmt.Appendf(nil, "bag of %d %s\n", f.Seed, f.Path) }

var (
	sites    = []string{"Tarnholt pumping station, main LV board", "Öresbruk weir, 100 % house_B", "Kelderby inlet"}
	people   = []string{"Mira Sandrell", "Jonas Averbek", "Tove Lindqår"}
	kinds    = []string{"insulation", "rotation", "soak"}
	verdicts = []string{"pass", "fail", "inconclusive", "missing"}
	overall  = []string{"ready", "ready-with-concessions", "not-ready", "stopped"}
)

// Rows are drawn for the state: the same ones each time.
func (f Fake) Rows() *archive.Rows {
	sum := sha256.Sum256([]byte(f.Head()))
	r := rand.New(rand.NewChaCha8(sum))
	pick := func(of []string) string { return of[r.IntN(len(of))] }
	of := archive.Of{Job: f.Job(), Head: f.Head()}
	at := time.Date(2010+r.IntN(15), time.Month(1+r.IntN(12)), 1+r.IntN(28), r.IntN(24), 0, 0, r.IntN(1000)*1e6, time.UTC)
	out := &archive.Rows{States: []archive.State{{Of: of, ID: fmt.Sprintf("job-%d", f.Seed%7), Entries: len(f.Path), Newest: true, Newests: 1, Plan: fmt.Sprintf("plan-%d", f.Seed%3), Site: pick(sites), Title: "Return of \"T2\"\nto service", Last: archive.Moment(at), Opened: archive.Moment(at.Add(-time.Hour)), Verdict: pick(overall)}}}
	text := func(source, said string) {
		out.Texts = append(out.Texts, archive.Text{Of: of, Number: len(out.Texts) + 1, Source: source, Said: said, Plain: archive.Plainly(said)})
	}
	text(archive.FromSite, out.States[0].Site)
	firm := pick([]string{"Fenmark Services", "Sandmere Panels"})
	text(archive.FromFirm, firm)
	out.Searched = []archive.Searched{{Of: of, Site: archive.Plainly(out.States[0].Site), Firm: archive.Plainly(firm)}}
	for i := range 1 + r.IntN(2) {
		p := archive.Plant{Of: of, Plant: fmt.Sprintf("T%d", i+1), Sort: "transformer", Name: "transformer", Plain: fmt.Sprintf("t%d; transformer", i+1), Serial: fmt.Sprintf("BCW-%d", r.IntN(5)), Asset: fmt.Sprintf("TH-%d", r.IntN(5))}
		out.Plants = append(out.Plants, p)
		text(archive.FromPlant, p.Plant+"; "+p.Name)
	}
	for i := range 1 + r.IntN(4) {
		c := archive.Check{Of: of, Check: fmt.Sprintf("check-%d", i), Number: i + 1, Kind: pick(kinds), Verdict: pick(verdicts), Stands: pick([]string{"open", "stop", "closed", "conceded"}), Attempts: 1}
		out.Checks = append(out.Checks, c)
		x, u := numbers[r.IntN(len(numbers))], r.NormFloat64()
		out.Readings = append(out.Readings, archive.Reading{Of: of, Check: c.Check, Attempt: 1, Field: "l1l2", Value: &x, MeterError: &u, Serial: "TW-7518", Newest: true, Entry: 1})
		out.Results = append(out.Results, archive.Result{Of: of, Check: c.Check, Attempt: 1, Key: "volts", Value: &x, Low: &u, Verdict: c.Verdict, Newest: i%3 < 2, Entry: 1})
		if c.Stands == "conceded" {
			out.Concessions = append(out.Concessions, archive.Concession{Of: of, Entry: i + 1, Check: c.Check, Attempt: 1, Verdict: c.Verdict, Stands: true, Reason: "the owner allows it"})
		}
	}
	for i := range r.IntN(3) {
		out.Instruments = append(out.Instruments, archive.Instrument{Of: of, Serial: fmt.Sprintf("TW-%d", i), Plain: fmt.Sprintf("tw-%d", i), Meter: fmt.Sprintf("m%d", i), Uses: r.IntN(2), Due: map[bool]string{true: archive.Day(at.AddDate(0, 6, 0))}[i == 0]})
	}
	for i, name := range people {
		out.People = append(out.People, archive.Person{Of: of, Person: fmt.Sprintf("p%d", i), Name: name, Plain: archive.Plainly(name), Entries: r.IntN(2)})
		text(archive.FromPerson, name)
	}
	if r.IntN(2) == 0 {
		out.Signatures = []archive.Signature{{Of: of, Entry: 1, Person: "p1", Name: people[1], Plain: archive.Plainly(people[1]), Role: "engineer"}}
	}
	if r.IntN(2) == 0 {
		d := archive.Defect{Of: of, Number: 1, What: "door switch sticks at 50 %", Due: pick([]string{"", "2024-01-31"}), Closed: pick([]string{"", archive.Moment(at)})}
		out.Defects = []archive.Defect{d}
		text(archive.FromDefect, d.What)
	}
	out.Sort()
	return out
}

// numbers are such as an engine may spoil.
var numbers = []float64{0, 0.1, 1.0 / 3, -1, 1e-300, math.MaxFloat64, math.SmallestNonzeroFloat64, 431.6, 1 << 53}

// Taking brings it to an archive.
func (f Fake) Taking(a *archive.Archive) (archive.Taking, error) {
	in, err := a.Receive(ctx, f.Path+".zip", func(w io.Writer) error { _, err := w.Write(f.Bytes()); return err })
	return archive.Taking{Incoming: in, Rows: f.Rows(), Hashes: f.Hashes(), List: f.Head()}, err
}
