package schema_test

import (
	"bufio"
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
	"handback/report"
	"handback/report/schema"
	"handback/testdata/rig"
	"handback/testdata/schemas"
)

func text(t *testing.T, name string) []byte {
	t.Helper()
	for _, n := range schema.Record {
		if n.Name == name {
			out, err := n.Text()
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
	}
	t.Fatalf("no schema %s", name)
	return nil
}

// Every body that is recorded fits the schema of entries, and the handover data of a job
// theirs; one with a member more does not.
func TestRecord(t *testing.T) {
	entry, err := schema.Entry()
	if err != nil {
		t.Fatal(err)
	}
	handover := text(t, "handover")
	for name, r := range map[string]*rig.Rig{"told": rig.Told(t), "nasty": rig.Nasty(t)} {
		job := r.Job()
		for _, e := range job.Entries {
			if err := schemas.Fits(entry, e.Body); err != nil {
				t.Errorf("%s, entry %d (%s): %v", name, e.Seq, e.Kind, err)
			}
		}
		data, err := job.HandoverData(r.Now.Add(time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		if err := schemas.Fits(handover, data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, wrong := range []string{strings.Replace(string(data), `{"at":`, `{"more":1,"at":`, 1), strings.Replace(string(data), `"verdict":"`, `"verdict":"nearly-`, 1), strings.Replace(string(data), `"job":`, `"jobs":`, 1)} {
			if wrong == string(data) || schemas.Fits(handover, []byte(wrong)) == nil {
				t.Errorf("%s: other handover data fit: %.100s", name, wrong)
			}
		}
	}
}

// Entries of the job that was signed once, of every kind that signing makes, and the
// statements in them.
func TestStatement(t *testing.T) {
	entry, err := schema.Entry()
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open("../seal/testdata/signed.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	signed := 0
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 1<<24)
	for lines.Scan() {
		body := bytes.Clone(lines.Bytes())
		e, err := chain.ParseEntry(body)
		if err != nil {
			t.Fatal(err)
		}
		if err := schemas.Fits(entry, body); err != nil {
			t.Errorf("entry %d: %v", e.Seq, err)
		}
		if e.Kind != report.EntrySign {
			continue
		}
		signed++
		s, err := report.Decode[report.Signed](e)
		if err != nil {
			t.Fatal(err)
		}
		if err := schemas.Fits(text(t, "statement"), []byte(s.Statement)); err != nil {
			t.Errorf("entry %d: %v", e.Seq, err)
		}
		if wrong := strings.Replace(s.Statement, `"role":"`, `"role":"head `, 1); schemas.Fits(text(t, "statement"), []byte(wrong)) == nil {
			t.Errorf("entry %d: a statement of another role fits", e.Seq)
		}
		if strings.Contains(string(body), `"kind":"sign"`) && schemas.Fits(entry, bytes.Replace(body, []byte(`"signature":`), []byte(`"sign":`), 1)) == nil {
			t.Errorf("entry %d: a signature under another name fits", e.Seq)
		}
	}
	if err := lines.Err(); err != nil || signed == 0 {
		t.Fatalf("%d signatures, %v", signed, err)
	}
}
