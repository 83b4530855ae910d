package admit_test

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/admit"
	"handback/report/files"
	"handback/report/seal"
	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }

func one[R any](t *testing.T, of []R, is func(R) bool) R {
	t.Helper()
	i := slices.IndexFunc(of, is)
	if i < 0 {
		t.Fatalf("none of %d rows is like that", len(of))
	}
	return of[i]
}

// What is in the rows of a job that was told entry by entry. Numbers are worked out by hand.
func TestRows(t *testing.T) {
	j := rig.Told(t).Job()
	r := admit.Rows(j, nil, nil)
	s := r.States[0]
	if s.Job != j.Entries[0].Hash || s.Head != j.Head().Hash || s.Entries != len(j.Entries) || !s.Newest || s.Verdict != j.Overall(j.Head().At).Code {
		t.Errorf("state %+v", s)
	}
	if want := "2026-03-02T06:30:00.000Z"; s.Opened != want { // rig.Dawn, 07:30 an hour east
		t.Errorf("opened %s, want %s", s.Opened, want)
	}
	v := one(t, r.Readings, func(x archive.Reading) bool { return x.Check == "volts" && x.Attempt == 2 && x.Field == "l3n" })
	if v.Value == nil || *v.Value != 254.4 || v.Typed != "254.4" || v.Serial != "EX-100" || v.Unit != "V" || v.Quantity != "voltage" || !v.Newest || v.Verdict != "pass" || v.Person != "ada" {
		t.Errorf("corrected reading %+v", v)
	}
	// range to 600 V: 0.5 % of 254.4 V + 3 digits of 0.1 V
	if want := 0.005*254.4 + 0.3; v.MeterError == nil || !(math.Abs(*v.MeterError-want) <= 1e-12) {
		t.Errorf("error of the meter %v, want %v", v.MeterError, want)
	}
	old := one(t, r.Readings, func(x archive.Reading) bool { return x.Check == "volts" && x.Attempt == 1 && x.Field == "l1l2" })
	if *old.Value != 462.9 || old.Newest || old.Verdict != "fail" {
		t.Errorf("reading of the attempt that was repeated %+v", old)
	}
	ir := one(t, r.Readings, func(x archive.Reading) bool { return x.Check == "ir" && x.Field == "p2" })
	if *ir.Value != 1.2e9 || ir.Unit != "Ω" {
		t.Errorf("reading in another unit %+v", ir)
	}
	c := one(t, r.Concessions, func(x archive.Concession) bool { return x.Check == "ir" })
	if c.Attempt != 1 || c.Verdict != "fail" || !strings.HasPrefix(c.Reason, "tester compared") || c.Stands != (j.StandsAt(j.State("ir"), j.Head().At) == report.StandsAccepted) {
		t.Errorf("concession %+v", c)
	}
	m := one(t, r.Instruments, func(x archive.Instrument) bool { return x.Meter == "dmm" })
	if m.Due != "2027-01-31" || m.Certificate != "C-2025-881" || m.Uses != 13 { // 6 + 6 volts, 1 to earth
		t.Errorf("instrument %+v", m)
	}
	if p := one(t, r.People, func(x archive.Person) bool { return x.Person == "eva" }); p.Entries != 2 { // a concession and a note
		t.Errorf("person %+v", p)
	}
	for _, words := range []string{"third harmonic heard", "=1+1 is no formula", "compared with a resistor"} {
		one(t, r.Texts, func(x archive.Text) bool { return strings.Contains(x.Plain, words) })
	}
}

// packed is the bag of a job as a file.
func packed(t *testing.T, r *rig.Rig) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bag.zip")
	err := files.WriteBag(path, r.ID, files.Over{}, func(to bag.BagSink) error { return seal.Pack(to, r.Job(), []byte(r.Plan.Text()), "handback test", "") })
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// A bag is taken or refused by what it is and by what the policy asks, at the time given.
func TestExamine(t *testing.T) {
	later := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	good := packed(t, rig.New(t, "bar.yaml"))
	data, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	written := func(name string, data []byte) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	asked := func(text string, more ...archive.Part) admit.Policy {
		p, err := admit.NewPolicy(append(more, archive.Part{Part: archive.PartPolicy, Name: "intake.yaml", Body: []byte(text)}), 3)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	nobody := archive.Part{Part: "allowed_signers", Name: "signers", Body: nil}
	changed := slices.Clone(data)
	changed[strings.Index(string(data), "ada")] = 'o'
	for name, c := range map[string]struct {
		path   string
		policy admit.Policy
		at     time.Time
		want   string // in the reasons; "" for a bag that is taken
	}{
		"good":      {good, admit.Policy{}, later, ""},
		"asked":     {good, asked("clock_ahead: 10m"), later, ""},
		"early":     {good, asked("clock_ahead: 10m"), rig.Dawn.Add(-time.Hour), "which has not come"},
		"unsigned":  {good, asked("require: [engineer]\nallowed_signers: signers", nobody), later, "engineer"},
		"changed":   {written("c.zip", changed), admit.Policy{}, later, "checksum"},
		"cut short": {written("s.zip", data[:len(data)/10]), admit.Policy{}, later, "cannot be read as a bag"},
		"no bag":    {written("n.zip", []byte("some words")), admit.Policy{}, later, "cannot be read as a bag"},
	} {
		got, err := admit.Examine(c.path, c.policy, c.at)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if taken := got.Rows != nil; taken != (c.want == "") || taken == (len(got.Reasons) > 0) || !strings.Contains(strings.ToLower(strings.Join(got.Reasons, "\n")), c.want) {
			t.Errorf("%s: taken %v, reasons %q", name, taken, got.Reasons)
		}
		if got.Rows != nil && got.Hashes[len(got.Hashes)-1] != got.Rows.States[0].Head {
			t.Errorf("%s: the hashes end with %s", name, got.Hashes[len(got.Hashes)-1])
		}
	}
}

// What is read of a policy is what it says, with the files it names and no others.
func TestGather(t *testing.T) {
	have := map[string]string{
		"good.yaml": "require: [owner]\nallowed_signers: keys\nrevoked_keys: lost\n", "keys": "", "lost": "",
		"wrong.yaml": "must: [tail]\n", "lacks.yaml": "require: [owner]\nallowed_signers: gone\n",
	}
	read := func(name string) ([]byte, error) {
		text, ok := have[name]
		if !ok {
			return nil, os.ErrNotExist
		}
		return []byte(text), nil
	}
	parts, err := admit.Gather("good.yaml", read)
	var got []string
	for _, p := range parts {
		got = append(got, p.Part+" "+p.Name)
	}
	if want := []string{"policy good.yaml", "allowed_signers keys", "revoked_keys lost"}; err != nil || !slices.Equal(got, want) {
		t.Errorf("parts %q, want %q: %v", got, want, err)
	}
	for _, name := range []string{"wrong.yaml", "lacks.yaml", "none.yaml"} {
		if _, err := admit.Gather(name, read); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
