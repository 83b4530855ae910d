package seal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// The digest is plain SHA-256 over the data, the data hold the job, and any entry
// more gives others.
func TestHandoverData(t *testing.T) {
	r := rig.Told(t)
	j := r.Job()
	data, err := j.HandoverData(r.Now)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(data)
	if later, err := j.HandoverData(r.Now.Add(time.Minute)); err != nil || bytes.Equal(later, data) {
		t.Errorf("the data do not hold the moment they speak of: %v", err)
	}
	// Statement, workbook, page and text name one digest: that of the newest entry's moment.
	if s := statement(r, "eva"); s.Handover != hex.EncodeToString(sum[:]) {
		t.Errorf("digest %s, want %x", s.Handover, sum)
	}
	if d := r.Document(j.Head().At); d.Digest != hex.EncodeToString(sum[:]) || !bytes.Equal(d.Data, data) {
		t.Errorf("the document has digest %s, want %x", d.Digest, sum)
	}
	again, err := chain.Canonical(json.RawMessage(data))
	if err != nil || !bytes.Equal(again, data) {
		t.Errorf("not in canonical form: %v", err)
	}
	var laid bytes.Buffer
	if err := json.Indent(&laid, data, "", "  "); err != nil {
		t.Fatal(err)
	}
	rig.Golden(t, "told.json", laid.String()+"\n")
	r.Put(report.EntryNote, "", report.Noted{Text: "one more"})
	if more, err := r.Job().HandoverData(r.Now); err != nil || bytes.Equal(more, data) {
		t.Errorf("an entry more, and the data are the same: %v", err)
	}
}

// A job that was signed is good for ever: from the first release on these two files
// are never written again, and what they say must stay true.
func TestSigned_frozen(t *testing.T) {
	if *rig.Update {
		r := keyedRig(t)
		r.Take("ir", rig.Insulated)
		r.By = "eva"
		r.Put(report.EntryConcede, "ir", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "compared with a resistor"})
		r.By = "ada"
		r.Put(report.EntryStep, "", report.Stepped{Hold: "energise", Action: "Close the HV breaker of T1", Taken: r.Now.Format(time.RFC3339)})
		r.Want(r.Take("hv", rig.Typed{"meter": "vt", "value": "11.62"}), checks.Fail)
		r.Read("hv", rig.Typed{"meter": "vt", "value": "11,20"}, nil, "supply was lowered")
		r.Want(r.Judge("hv", ""), checks.Pass)
		r.Put(report.EntryCorrect, "hv", report.Corrected{Attempt: 2, Answers: r.Answers("hv", rig.Typed{"value": "11.21"}, nil), Why: "misread the last digit"})
		r.Judge("hv", "after a correction")
		r.Put(report.EntrySkip, "tidy", report.Skipped{Why: "left to the morning"})
		for _, person := range []string{"ada", "eva", "odo"} {
			sign(r, person)
		}
		var lines bytes.Buffer
		for _, e := range r.Job().Entries {
			lines.Write(append(e.Body, '\n'))
		}
		rig.Golden(t, "signed.yaml", string(keyedPlan(t)))
		rig.Golden(t, "signed.jsonl", lines.String())
	}
	j := frozenJob(t)
	checked, err := j.CheckSignatures(nil)
	if err != nil || len(checked) != 3 || len(j.Differs) > 0 {
		t.Fatalf("%d signatures, %v, %v", len(checked), j.Differs, err)
	}
	for _, c := range checked {
		if c.Doubt() != "" {
			t.Errorf("entry %d: %s", c.Seq, c.Doubt())
		}
	}
	if h := j.Head(); len(j.Entries) != 23 || !strings.HasPrefix(h.Hash, frozenHead) {
		t.Errorf("%d entries, head %s", len(j.Entries), h.Hash)
	}
}

// frozenHead is how the head hash of the frozen job begins.
const frozenHead = "3b3f4e88e50ccb1d"

func frozenJob(t testing.TB) *report.Job {
	t.Helper()
	data := rig.PlanText(t, "signed.yaml")
	plan, err := plan.Load("signed.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	lines, err := os.ReadFile(filepath.Join("testdata", "signed.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	var entries []chain.Entry
	for _, line := range bytes.Split(bytes.TrimSpace(lines), []byte("\n")) {
		e, err := chain.ParseEntry(line)
		if err != nil {
			t.Fatal(err)
		}
		entries = append(entries, e)
	}
	if faults := chain.CheckChain(entries); len(faults) > 0 {
		t.Fatal(faults)
	}
	j, err := report.Fold(plan, entries)
	if err != nil {
		t.Fatal(err)
	}
	return j
}
