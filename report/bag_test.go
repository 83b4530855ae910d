package report

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/records"
)

const maker = "handback test"

// pile is a bag in memory.
type pile map[string][]byte

func (p pile) Put(name string, content []byte) error {
	p[name] = bytes.Clone(content)
	return nil
}

// bagRig is a job with a finding, attachments and a signature.
func bagRig(t testing.TB) *rig {
	r := keyedRig(t)
	r.attach("isolated", "bar.jpg", "The earth bar", jpegWith(t, exif(6)))
	r.attach("", "note.txt", "What the operator wrote", []byte("in order\n"))
	r.attach("", "note.txt", "The same once more", []byte("in order\n"))
	r.sign("ada")
	return r
}

// bagged is a job that reads its attachments.
func (r *rig) bagged() *Job {
	r.Helper()
	j := r.job()
	j.Files = func(hash string) ([]byte, error) { return r.book.File(ctx, hash) }
	return j
}

func (r *rig) planBytes() []byte {
	r.Helper()
	plan, err := r.book.Plan(ctx, r.job().PlanHash)
	if err != nil {
		r.Fatal(err)
	}
	return plan
}

func (r *rig) pack() pile {
	r.Helper()
	p := pile{}
	if err := PackBag(p, r.bagged(), r.planBytes(), maker); err != nil {
		r.Fatal(err)
	}
	return p
}

// again makes new manifests for changed files, as anybody could.
func (p pile) again(t testing.TB) pile {
	t.Helper()
	info := records.BagInfo{}
	n, err := fmt.Sscanf(strings.ReplaceAll(string(p[records.BagInfoFile]), "handback test", "handback-test"),
		"Bag-Software-Agent: %s\nExternal-Identifier: %s\n", &info.Program, &info.Job)
	if err != nil || n != 2 {
		t.Fatal(err)
	}
	var payload []records.BagFile
	for name, content := range p {
		if strings.HasPrefix(name, records.BagPayload) {
			payload = append(payload, records.BagFile{Name: name, Content: func() ([]byte, error) { return content, nil }})
		}
	}
	line := func(label string) string {
		_, rest, _ := strings.Cut(string(p[records.BagInfoFile]), label+": ")
		text, _, _ := strings.Cut(rest, "\n")
		return text
	}
	info.Program, info.Description, info.Head = line("Bag-Software-Agent"), line("External-Description"), line("Record-Head")
	fmt.Sscan(line("Record-Entries"), &info.Entries)
	out := pile{}
	if err := records.WriteBag(out, info, p[records.BagNote], payload); err != nil {
		t.Fatal(err)
	}
	return out
}

func (p pile) folder(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bag")
	if err := WriteBag(dir, "", Over{}, func(to records.BagSink) error {
		for _, name := range slices.Sorted(maps.Keys(p)) {
			if err := to.Put(name, p[name]); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return dir
}

func examine(t testing.TB, path, program string) Examined {
	t.Helper()
	b, err := records.OpenBag(path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	return ExamineBag(b, program)
}

func TestPackBag(t *testing.T) {
	r := bagRig(t)
	p := r.pack()
	hash := records.HashFile([]byte("in order\n"))
	entry := fmt.Sprint(r.job().Head().Seq)
	want := []string{
		"HOW-TO-CHECK.txt", "bag-info.txt", "bagit.txt",
		"data/allowed_signers", "data/attachments/" + hash + "-note.txt", "data/attachments/" + records.HashFile(jpegWith(t, exif(6))) + "-bar.jpg",
		"data/entries.jsonl", "data/handover-data/" + entry + ".json", "data/handover.html", "data/handover.txt", "data/handover.xlsx", "data/hashes.txt", "data/plan.yaml",
		"data/statements/" + entry + ".json", "data/statements/" + entry + ".json.sig",
		"manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt", "tagmanifest-sha512.txt",
	}
	slices.Sort(want)
	agree(t, want, slices.Sorted(maps.Keys(p)))
	agree(t, p, r.pack())
	if lines := strings.Count(string(p["data/entries.jsonl"]), "\n"); lines != len(r.job().Entries) {
		t.Errorf("%d lines of entries", lines)
	}
	x := examine(t, p.folder(t), maker)
	if len(x.Faults) > 0 || len(x.Notes) > 0 || x.Job == nil || x.Job.Head().Hash != r.job().Head().Hash {
		t.Errorf("%q, %q", x.Faults, x.Notes)
	}
	// Made by another version: what that one worded cannot be compared.
	if x := examine(t, p.folder(t), "handback later"); len(x.Faults) > 0 || len(x.Notes) != 1 || !strings.Contains(x.Notes[0], "handback test made the bag, this is handback later") {
		t.Errorf("%q, %q", x.Faults, x.Notes)
	}
}

// A job without attachments and signatures, and one that was only opened.
func TestPackBag_plain(t *testing.T) {
	r := newRig(t, "pump.yaml")
	for range 2 {
		p := r.pack()
		if x := examine(t, p.folder(t), maker); len(x.Faults) > 0 || len(x.Notes) > 0 {
			t.Errorf("%q, %q", x.Faults, x.Notes)
		}
		if len(p) != 3+4+6 {
			t.Errorf("files %v", slices.Sorted(maps.Keys(p)))
		}
		r.take("isolated", isolated)
	}
}

func TestWriteBag(t *testing.T) {
	r := bagRig(t)
	dir := t.TempDir()
	pack := func(to records.BagSink) error { return PackBag(to, r.bagged(), r.planBytes(), maker) }
	for _, name := range []string{"a.zip", "b.zip", "folder"} {
		if err := WriteBag(filepath.Join(dir, name), "keyed-1", Over{}, pack); err != nil {
			t.Fatal(err)
		}
		if x := examine(t, filepath.Join(dir, name), maker); len(x.Faults) > 0 {
			t.Errorf("%s: %q", name, x.Faults)
		}
		if err := WriteBag(filepath.Join(dir, name), "keyed-1", Over{}, pack); err == nil || !strings.Contains(err.Error(), "never written over") {
			t.Errorf("%s was written over: %v", name, err)
		}
	}
	a, err := os.ReadFile(filepath.Join(dir, "a.zip"))
	if err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(filepath.Join(dir, "b.zip")); err != nil || !bytes.Equal(a, b) {
		t.Errorf("the same job gives other bytes, %v", err)
	}
	p := r.pack()
	err = filepath.WalkDir(filepath.Join(dir, "folder"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(filepath.Join(dir, "folder"), path)
		content, err := os.ReadFile(path)
		if !bytes.Equal(content, p[filepath.ToSlash(name)]) || info.Mode() != 0o644 {
			t.Errorf("%s: mode %v, or other content", name, info.Mode())
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	// What cannot be packed leaves nothing behind.
	for _, name := range []string{"torn.zip", "torn"} {
		fail := func(to records.BagSink) error {
			if err := to.Put("data/a", []byte("a")); err != nil {
				return err
			}
			return records.ErrDamaged
		}
		if err := WriteBag(filepath.Join(dir, name), "x", Over{}, fail); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 3 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Somebody changes a byte and makes the manifests anew. Whatever stands in the record
// tells; of the workbook, whose packing has bytes that say nothing, its cells do.
func TestExamineBag_everyByte(t *testing.T) {
	r := newRigOf(t, "keyed.yaml", keyedPlan(t))
	r.put(KindNote, "", Noted{"x"})
	r.attach("", "n.txt", "c", []byte("in order\n"))
	r.sign("ada")
	p := r.pack()
	seen, places := 0, 25
	if testing.Short() {
		places = 4
		t.Logf("-short: %d places of each long file", places)
	}
	for _, name := range slices.Sorted(maps.Keys(p)) {
		content, step := p[name], 1
		if !strings.HasPrefix(name, records.BagPayload) || name == bagWorkbook {
			continue
		}
		if len(content) > 120 { // every byte of every file stands in the tests of records
			step = len(content)/places + 1
		}
		for i := 0; i < len(content); i += step {
			for what, spoilt := range map[string][]byte{"changed": slices.Concat(content[:i], []byte{content[i] ^ 1}, content[i+1:]), "cut": content[:i]} {
				seen++
				q := maps.Clone(p)
				q[name] = spoilt
				faults := memoryBag(t, q.again(t))
				if len(faults) == 0 {
					t.Fatalf("%s %s at byte %d, and nothing is found", name, what, i)
				}
			}
		}
	}
	if seen < 12*places {
		t.Errorf("only %d places were tried", seen)
	}
}

// memoryBag examines a bag that lies in an archive.
func memoryBag(t testing.TB, p pile) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "b.zip")
	var b bytes.Buffer
	z := records.NewZipSink(&b, "x")
	for _, name := range slices.Sorted(maps.Keys(p)) {
		if err := z.Put(name, p[name]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	x := examine(t, path, maker)
	faults := x.Faults
	if x.Job != nil {
		checked, err := x.Job.CheckSignatures(nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range checked {
			faults = append(faults, c.Faults...)
		}
	}
	return faults
}

// What is wrong is told with its place, manifests made anew or not.
func TestExamineBag_faults(t *testing.T) {
	r := bagRig(t)
	good := r.pack()
	entries := strings.SplitAfter(string(good[bagEntries]), "\n")
	note := bagAttached + records.HashFile([]byte("in order\n")) + "-note.txt"
	workbook := func(from, to string) []byte { return withWords(t, good[bagWorkbook], from, to) }
	for name, c := range map[string]struct {
		change func(pile)
		want   string
	}{
		"nothing":          {func(pile) {}, ""},
		"last entries cut": {func(p pile) { p[bagEntries] = []byte(strings.Join(entries[:3], "")) }, "bag-info.txt tells of job"},
		"entry taken out":  {func(p pile) { p[bagEntries] = []byte(entries[0] + strings.Join(entries[2:], "")) }, "data/entries.jsonl: job pump-t1-1, entry 2: it is missing"},
		"entries swapped": {func(p pile) {
			p[bagEntries] = []byte(entries[0] + entries[2] + entries[1] + strings.Join(entries[3:], ""))
		}, "entry 2: it stands after entry 3"},
		"no line feed":        {func(p pile) { p[bagEntries] = good[bagEntries][:len(good[bagEntries])-1] }, "does not end with a line feed"},
		"no entries":          {func(p pile) { p[bagEntries] = nil }, "data/entries.jsonl holds no entry"},
		"entries gone":        {func(p pile) { delete(p, bagEntries) }, "data/entries.jsonl is missing"},
		"a limit moved":       {func(p pile) { p[bagPlan] = append([]byte("# \n"), good[bagPlan]...) }, "data/plan.yaml is not the plan the job was opened with"},
		"plan gone":           {func(p pile) { delete(p, bagPlan) }, "data/plan.yaml is missing"},
		"hashes":              {func(p pile) { p[bagHashes] = []byte("1 x\n") }, "data/hashes.txt does not list the hashes of data/entries.jsonl: line 1"},
		"hashes gone":         {func(p pile) { delete(p, bagHashes) }, "data/hashes.txt is missing"},
		"attachment":          {func(p pile) { p[note] = []byte("other\n") }, note + " is not the file that entry"},
		"attachment gone":     {func(p pile) { delete(p, note) }, note + " is missing"},
		"stranger":            {func(p pile) { p["data/run.sh"] = []byte("#!") }, "data/run.sh: nothing in the record tells of it"},
		"text":                {func(p pile) { p[bagText] = bytes.Replace(good[bagText], []byte("NOT READY"), []byte("READY"), 1) }, "data/handover.txt is not what the record gives: line 8 differs"},
		"page":                {func(p pile) { p[bagPage] = bytes.Replace(good[bagPage], []byte("NOT READY"), []byte("READY"), 1) }, "data/handover.html is not what the record gives"},
		"workbook":            {func(p pile) { p[bagWorkbook] = workbook("NOT READY", "READY") }, `data/handover.xlsx, Cover!A4 says "READY`},
		"workbook of another": {func(p pile) { p[bagWorkbook] = workbook(r.job().Head().Hash, strings.Repeat("0", 64)) }, "data/handover.xlsx shows job \"pump-t1-1\""},
		"workbook formula":    {func(p pile) { p[bagWorkbook] = workbook("<f>IF(COUNTIF(", "<f>IF(COUNTA(") }, "data/handover.xlsx: xl/worksheets/sheet1.xml in it is not what the record gives"},
		"no workbook":         {func(p pile) { p[bagWorkbook] = []byte("x") }, "data/handover.xlsx: it is no workbook"},
		"note":                {func(p pile) { p[records.BagNote] = []byte("All is well.\n") }, "HOW-TO-CHECK.txt is not what the record gives: line 1"},
		"signers":             {func(p pile) { p[bagSigners] = nil }, "data/allowed_signers is not what the record gives"},
		"signature gone":      {func(p pile) { delete(p, bagStatements+fmt.Sprint(len(entries)-1)+".json.sig") }, ".json.sig is missing"},
	} {
		p := maps.Clone(good)
		c.change(p)
		for how, bag := range map[string]pile{"manifests as they were": p, "manifests made anew": p.again(t)} {
			x := examine(t, bag.folder(t), maker)
			all := strings.Join(x.Faults, "\n")
			if c.want == "" && all != "" || c.want != "" && !strings.Contains(all, c.want) {
				t.Errorf("%s, %s: %q, want %q", name, how, x.Faults, c.want)
			}
			if seen := map[string]bool{}; true {
				for _, f := range x.Faults {
					if seen[f] {
						t.Errorf("%s: said twice: %s", name, f)
					}
					seen[f] = true
				}
			}
		}
	}
}

// A judgement recorded otherwise than its answers come to is found, however sound
// the chain: the record was written by no handback of this kind.
func TestExamineBag_judgedOtherwise(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.take("isolated", isolated)
	j := r.job()
	a := j.State("isolated").Judged()
	forged := NewJudged(a.Number, a.Finding, "")
	forged.Stop = "invented"
	r.put(KindJudge, "isolated", forged)
	x := examine(t, r.pack().folder(t), maker)
	if !slices.ContainsFunc(x.Faults, func(f string) bool { return strings.Contains(f, `recorded stop "invented"`) }) {
		t.Errorf("%q", x.Faults)
	}
}

// withWords changes a text in the parts of a workbook.
func withWords(t testing.TB, data []byte, from, to string) []byte {
	t.Helper()
	p, err := openParts(data)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	var b bytes.Buffer
	z := &steadyZip{into: &b, parts: map[string]*bytes.Buffer{}, core: p[corePart]}
	for name, part := range p {
		found = found || bytes.Contains(part, []byte(from))
		z.parts[name] = bytes.NewBuffer(bytes.ReplaceAll(part, []byte(from), []byte(to)))
	}
	if err := z.Close(); err != nil || !found {
		t.Fatalf("%q is not in the workbook, or %v", from, err)
	}
	return b.Bytes()
}
