package seal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os/exec"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/report"
	"handback/report/legend"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// The archivist's script knows nothing of this program but what stands in a bag. It finds
// all well, and tells of any byte that was changed: of manifests left as they were, made
// anew, and of a reading in a chain that was made anew too.
func TestArchivist_outside(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	told := rig.Told(t)
	told.Attach("", "note.txt", "What the operator wrote", []byte("in order\n"))
	for name, r := range map[string]*rig.Rig{"told": told, "nasty": rig.Nasty(t), "signed": bagRig(t), "opened": rig.New(t, "pump.yaml")} {
		good := pack(r)
		readings, verdicts := 0, 0
		for _, e := range r.Job().Entries {
			var data struct {
				Answers map[string]struct{ Unit string }
			}
			if err := json.Unmarshal(e.Data, &data); err != nil {
				t.Fatal(err)
			}
			for _, a := range data.Answers {
				if a.Unit != "" {
					readings++
				}
			}
			if e.Kind == report.EntryJudge {
				verdicts++
			}
		}
		if out, err := exec.Command(python, "../../testdata/archivist.py", good.folder(t)).CombinedOutput(); err != nil || string(out) != fmt.Sprintf("%d entries, %d readings, %d verdicts\n", r.Job().Head().Seq, readings, verdicts) {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
	good := pack(told)
	note := bagAttached + chain.HashFile([]byte("in order\n")) + "-note.txt"
	for name, c := range map[string]struct {
		file, from, to, tells string
		chained               bool
	}{
		"entry":            {bagEntries, `"by":"ada"`, `"by":"adb"`, "does not follow the one before", false},
		"plan":             {bagPlan, "title: T", "title: D", "entry 1: plan.yaml is another file", false},
		"attachment":       {note, "order", "ordes", "is another file", false},
		"reading":          {bagEntries, `"value":440.9`, `"value":444.9`, "does not follow the one before", false},
		"reading, chained": {bagEntries, `"value":440.9`, `"value":444.9`, "440.9 is not 444.9 V", true},
		"typed, chained":   {bagEntries, `"typed":"1.2 GΩ"`, `"typed":"1.2 MΩ"`, "1.2 MΩ is not 1200000000 Ω", true},
		"member, chained":  {bagEntries, `"attempt":1}`, `"attemps":1}`, "lacks a member", true},
		"hashes":           {bagHashes, "1 ", "1  ", "the entries have other hashes", false},
		"units":            {legend.Reading, "  kV      voltage           V          1000 ", "  kV      voltage           V          1001 ", "is not", false},
	} {
		p := maps.Clone(good)
		if !bytes.Contains(p[c.file], []byte(c.from)) {
			t.Errorf("%s: %s does not hold %s", name, c.file, c.from)
			continue
		}
		p[c.file] = bytes.Replace(p[c.file], []byte(c.from), []byte(c.to), 1)
		if c.chained {
			chained(t, p)
		}
		for manifests, changed := range map[string]pile{"as they were": p, "made anew": p.again(t)} {
			out, err := exec.Command(python, "../../testdata/archivist.py", changed.folder(t)).CombinedOutput()
			tells := c.tells
			if manifests == "as they were" {
				tells = c.file + " was changed"
			}
			if err == nil || !strings.Contains(string(out), tells) {
				t.Errorf("%s, manifests %s: %v, want %q\n%s", name, manifests, err, tells, out)
			}
		}
	}
	less := maps.Clone(good)
	delete(less, note)
	more := maps.Clone(good)
	more["data/extra"] = nil
	for name, p := range map[string]pile{"a file less": less, "a file less, listed so": less.again(t), "a file more": more} {
		if out, err := exec.Command(python, "../../testdata/archivist.py", p.folder(t)).CombinedOutput(); err == nil {
			t.Errorf("%s: it finds all well\n%s", name, out)
		}
	}
}

// chained makes the chain of the entries of a bag anew, as anybody could.
func chained(t *testing.T, p pile) {
	t.Helper()
	var entries, hashes []byte
	last := ""
	for line := range bytes.Lines(p[bagEntries]) {
		e, err := chain.ParseEntry(bytes.TrimSuffix(line, []byte("\n")))
		if err != nil {
			t.Fatal(err)
		}
		body := e.Body
		if last != "" {
			body = bytes.Replace(body, []byte(e.Prev), []byte(last), 1)
		}
		last = chain.HashFile(append([]byte("handback entry v1\n"), body...))
		entries, hashes = fmt.Appendf(entries, "%s\n", body), fmt.Appendf(hashes, "%d %s\n", e.Seq, last)
	}
	p[bagEntries], p[bagHashes] = entries, hashes
}
