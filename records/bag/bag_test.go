package bag

import (
	"bytes"
	"errors"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/records"
	"handback/records/chain"
	"handback/testdata/outside"
)

// pile is a bag in memory.
type pile map[string][]byte

func (p pile) Put(name string, content []byte) error {
	p[name] = bytes.Clone(content)
	return nil
}

func (p pile) payload() []BagFile {
	var out []BagFile
	for name, content := range p {
		out = append(out, BagFile{name, func() ([]byte, error) { return content, nil }})
	}
	return out
}

var (
	testPayload = pile{"data/plan.yaml": testPlan, "data/entries.jsonl": []byte("{}\n"), "data/attachments/a-photo.txt": testFile, "data/empty.txt": nil}
	oldInfo     = BagInfo{Program: "handback test", Job: "pump-1", Description: "Return of Pumpe Nº 1", Entries: 1, Head: chain.HashFile(nil)}
	testInfo    = BagInfo{Program: "handback test", Date: "2026-05-12", Organization: "Fenmark Services", Address: "Unit 25, Kiln Yard, Fenmark", Contact: "Jonas Averbek",
		Phone: "+44 1632 960214", Email: "test-office@fenmark.example", Job: "pump-1", Identifier: chain.HashFile(testPlan), Description: "Return of Pumpe Nº 1",
		Group: "order TW-5044", Entries: 1, Head: chain.HashFile(nil)}
	testAbout = map[string][]byte{BagNote: []byte("how to check\n"), "entry.schema.json": []byte("{}\n")}
)

func testBag(t testing.TB) pile {
	t.Helper()
	p := pile{}
	if err := WriteBag(p, testInfo, testAbout, testPayload.payload()); err != nil {
		t.Fatal(err)
	}
	return p
}

// folder lays the files out on the disk.
func (p pile) folder(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	for name, content := range p {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, content, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func (p pile) zipped(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	z := NewZipSink(&b, "pump-1")
	for _, name := range slices.Sorted(maps.Keys(p)) {
		if err := z.Put(name, p[name]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func checkBag(t testing.TB, path string) []string {
	t.Helper()
	b, err := OpenBag(path)
	if err != nil {
		return []string{err.Error()}
	}
	defer b.Close()
	return b.Check()
}

// checkArchive is checkBag of an archive in memory.
func checkArchive(archive []byte) (*Bag, []string) {
	z, err := newZipSource(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return nil, []string{err.Error()}
	}
	b := &Bag{source: z}
	b.sizes, b.Refused, _ = z.list()
	if len(b.Refused) == 0 {
		b.Refused = b.bounds()
	}
	return b, b.Check()
}

func inFile(t testing.TB, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bag.zip")
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// The form of every file about the payload, letter by letter (RFC 8493, sections 2.1
// and 2.2; the hashes are those of sha256sum).
func TestWriteBag(t *testing.T) {
	p := testBag(t)
	want := map[string]string{
		"bagit.txt": "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
		"bag-info.txt": "Bag-Software-Agent: handback test\nBagging-Date: 2026-05-12\nSource-Organization: Fenmark Services\nOrganization-Address: Unit 25, Kiln Yard, Fenmark\n" +
			"Contact-Name: Jonas Averbek\nContact-Phone: +44 1632 960214\nContact-Email: test-office@fenmark.example\nExternal-Identifier: pump-1\n" +
			"External-Identifier: " + chain.HashFile(testPlan) + "\nExternal-Description: Return of Pumpe Nº 1\nBag-Group-Identifier: order TW-5044\n" +
			"Payload-Oxum: 57.4\nRecord-Entries: 1\nRecord-Head: e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\n",
		"manifest-sha256.txt": "074686e50105534329c8fa0b966dd7c759013dca4fea52e9d2bfb04e319acb64  data/attachments/a-photo.txt\n" +
			"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855  data/empty.txt\n" +
			"ca3d163bab055381827226140568f3bef7eaac187cebd76878e0b63e9e442356  data/entries.jsonl\n" +
			chain.HashPlan(testPlan) + "  data/plan.yaml\n",
		"HOW-TO-CHECK.txt": "how to check\n",
	}
	for name, text := range want {
		if got := string(p[name]); got != text {
			t.Errorf("%s:\n%s\nwant\n%s", name, got, text)
		}
	}
	if len(p) != len(testPayload)+8 {
		t.Errorf("files %v", slices.Sorted(maps.Keys(p)))
	}
	if n := len(strings.Fields(string(p["tagmanifest-sha512.txt"]))); n != 2*6 {
		t.Errorf("the tag manifest lists %d files, want the six that are not tag manifests", n/2)
	}
	for name, path := range map[string]string{"folder": p.folder(t), "zip": inFile(t, p.zipped(t))} {
		if faults := checkBag(t, path); len(faults) > 0 {
			t.Errorf("%s: %q", name, faults)
		}
		b, err := OpenBag(path)
		if err != nil {
			t.Fatal(err)
		}
		info, err := b.Info()
		info.oxum = ""
		if err != nil || info != testInfo {
			t.Errorf("%s: %+v, %v", name, info, err)
		}
		for file, content := range p {
			if got, err := b.Read(file); err != nil || !bytes.Equal(got, content) {
				t.Errorf("%s: %s: %q, %v", name, file, got, err)
			}
		}
		if _, err := b.Read("data/none"); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: got %v, want ErrNotExist", name, err)
		}
		b.Close()
	}
	if !bytes.Equal(p.zipped(t), testBag(t).zipped(t)) {
		t.Error("the same bag gives other bytes")
	}
}

// What bag-info.txt says is read back, that of bags made before it told of people too, and
// nothing that is written otherwise.
func TestParseBagInfo(t *testing.T) {
	old := "Bag-Software-Agent: handback test\nExternal-Identifier: pump-1\nExternal-Description: Return of Pumpe Nº 1\nPayload-Oxum: 57.4\nRecord-Entries: 1\nRecord-Head: " + chain.HashFile(nil) + "\n"
	want := oldInfo
	want.oxum = "57.4"
	if got, err := parseBagInfo([]byte(old)); err != nil || got != want {
		t.Errorf("of a bag made before: %+v, %v", got, err)
	}
	whole := testInfo
	whole.oxum = "57.4"
	now, err := whole.encode()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(now), "\n")
	for i, line := range lines[:len(lines)-1] {
		less := strings.Join(slices.Delete(slices.Clone(lines), i, i+1), "")
		label, _, _ := strings.Cut(line, ":")
		_, err := parseBagInfo([]byte(less))
		if may := err == nil; may != strings.Contains(" Bagging-Date Source-Organization Organization-Address Contact-Name Contact-Phone Contact-Email External-Identifier Bag-Group-Identifier ", " "+label+" ") {
			t.Errorf("without its line %q: %v", line, err)
		}
		for what, wrong := range map[string]string{"twice": strings.Replace(string(now), line, line+line, 1), "empty": strings.Replace(string(now), line, label+": \n", 1),
			"in small": strings.Replace(string(now), line, strings.ToLower(line), 1), "last": less + line} {
			if got, err := parseBagInfo([]byte(wrong)); err == nil && !(what == "last" && wrong == string(now)) {
				t.Errorf("%s %s: %+v", line, what, got)
			}
		}
	}
	for _, wrong := range []string{"", "\n", old[:len(old)-1], old + "\n", old + "More: x\n"} {
		if _, err := parseBagInfo([]byte(wrong)); err == nil {
			t.Errorf("%q is read", wrong)
		}
	}
}

func TestWriteBag_refused(t *testing.T) {
	for name, c := range map[string]struct {
		info    BagInfo
		payload pile
		want    string
	}{
		"outside":   {testInfo, pile{"plan.yaml": nil}, "plan.yaml is not under data/"},
		"up":        {testInfo, pile{"data/../x": nil}, "leads out of the bag"},
		"case":      {testInfo, pile{"data/a": nil, "data/B": nil, "data/A": nil}, "stands twice"},
		"two lines": {BagInfo{Program: "p", Job: "j-1", Description: "a\nb"}, testPayload, "control character"},
		"nobody":    {BagInfo{Job: "j-1", Description: "a"}, testPayload, "Bag-Software-Agent is empty"},
	} {
		if err := WriteBag(pile{}, c.info, nil, c.payload.payload()); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
	broken := []BagFile{{"data/a", func() ([]byte, error) { return nil, records.ErrDamaged }}}
	if err := WriteBag(pile{}, testInfo, nil, broken); !errors.Is(err, records.ErrDamaged) {
		t.Errorf("got %v, want ErrDamaged", err)
	}
}

// Any byte of any file changed, and any file cut off anywhere, is reported with its name.
func TestBag_everyByte(t *testing.T) {
	good := testBag(t)
	for name, content := range good {
		for i := range content {
			for what, spoilt := range map[string][]byte{"changed": append(append(append([]byte{}, content[:i]...), content[i]^1), content[i+1:]...), "cut": content[:i]} {
				p := maps.Clone(good)
				p[name] = spoilt
				_, faults := checkArchive(p.zipped(t))
				if len(faults) == 0 || !strings.Contains(strings.Join(faults, "\n"), name) {
					t.Fatalf("%s %s at byte %d: %q", name, what, i, faults)
				}
			}
		}
	}
}

// An archive cut off or with a byte changed anywhere: refused, or faulty, or the same bag.
func TestBag_everyByteOfArchive(t *testing.T) {
	outside.Long(t)
	good := testBag(t)
	archive := good.zipped(t)
	quiet := 0
	for i := range archive {
		if _, faults := checkArchive(archive[:i]); len(faults) == 0 {
			t.Fatalf("cut at %d and nothing is found", i)
		}
		spoilt := bytes.Clone(archive)
		spoilt[i] ^= 1
		b, faults := checkArchive(spoilt)
		if len(faults) > 0 {
			continue
		}
		quiet++ // a time or a right of an entry, which says nothing of the content
		for name, content := range good {
			if got, err := b.Read(name); err != nil || !bytes.Equal(got, content) {
				t.Fatalf("byte %d changed: %s is %q, %v, and nothing is found", i, name, got, err)
			}
		}
	}
	if quiet == len(archive) {
		t.Error("nothing was found at any byte")
	}
}
