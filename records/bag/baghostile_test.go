package bag

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/testdata/outside"
)

// Every name is refused in every place it can stand: a manifest, a folder, an archive.
func TestBagNames(t *testing.T) {
	long := "data/" + strings.Repeat("x", 200)
	for name, want := range map[string]string{
		"": "an empty name", "/etc/passwd": "absolute path", "../x": "leads out", "data/../../x": "leads out", "C:/x": "names a drive", "c:x": "names a drive",
		`data\x`: "backslash", "data/a%0Ab": "percent", "data/a\nb": "control", "data/a\rb": "control", "data//x": "empty part", "data/./x": "empty part", "data/x/": "empty part",
		"data/x.": "ends with a dot", "data/a b": "are accepted", "data/ä": "are accepted", "data/a\u202eb": "are accepted", "data/a*": "are accepted", "data/\xff": "are accepted",
		long: "at most 200", "data/aux:": "are accepted", "~/x": "are accepted", "data/x\x00": "control", "data/..": "leads out", "-rf/$(x)": "are accepted",
	} {
		if err := validBagName(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q", name, err, want)
		}
		if _, err := parseManifest([]byte(chain.HashFile(nil)+"  "+name+"\n"), 32); err == nil {
			t.Errorf("%q is accepted in a manifest", name)
		}
		if name == "" || strings.HasSuffix(name, "/") {
			continue
		}
		z := rawZip(t, rawFile{name: "pump-1/bagit.txt"}, rawFile{name: "pump-1/" + name})
		if name[0] == '/' || name[1] == ':' {
			z = rawZip(t, rawFile{name: name})
		}
		if faults := checkBag(t, inFile(t, z)); !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, want) || strings.Contains(f, "empty part") }) {
			t.Errorf("%q in an archive: got %q, want %q", name, faults, want)
		}
	}
	for _, name := range []string{"data/plan.yaml", "a", "data/-x", "data/.hidden", "data/a/b/c_d-e.f"} {
		if err := validBagName(name); err != nil {
			t.Error(err)
		}
	}
}

type rawFile struct {
	name    string
	content []byte
	change  func(*zip.FileHeader)
}

// rawZip makes an archive of whatever it is told.
func rawZip(t testing.TB, files ...rawFile) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate}
		h.SetMode(0o644)
		if strings.HasSuffix(f.name, "/") {
			h.SetMode(fs.ModeDir | 0o755)
		}
		if f.change != nil {
			f.change(h)
		}
		var w io.Writer
		var err error
		if h.CompressedSize64 > 0 || h.Method > zip.Deflate {
			w, err = z.CreateRaw(h)
		} else {
			w, err = z.CreateHeader(h)
		}
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.name, "/") {
			continue
		}
		if _, err := w.Write(f.content); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func rawFiles(p pile, more ...rawFile) []rawFile {
	var out []rawFile
	for _, name := range slices.Sorted(maps.Keys(p)) {
		out = append(out, rawFile{name: "pump-1/" + name, content: p[name]})
	}
	return append(out, more...)
}

// An archive somebody packed again with another program is the same bag; one made to
// mislead is refused before anything in it is read.
func TestBag_archives(t *testing.T) {
	good := testBag(t)
	mode := func(m fs.FileMode) func(*zip.FileHeader) { return func(h *zip.FileHeader) { h.SetMode(m) } }
	var many []rawFile
	for i := range MaxBagFiles + 1 {
		many = append(many, rawFile{name: fmt.Sprintf("pump-1/data/%d", i)})
	}
	zeros := make([]byte, 1<<20)
	sized := func(is uint64) func(*zip.FileHeader) {
		return func(h *zip.FileHeader) { h.CompressedSize64, h.UncompressedSize64 = 5, is }
	}
	for name, c := range map[string]struct {
		archive []byte
		want    string // "" when nothing is wrong
		refused bool   // nothing of it may be read
	}{
		"packed again":    {rawZip(t, rawFiles(good, rawFile{name: "pump-1/"}, rawFile{name: "pump-1/data/"})...), "", false},
		"twice":           {rawZip(t, rawFiles(good, rawFile{name: "pump-1/bagit.txt"})...), "pump-1/bagit.txt stands twice", true},
		"file and folder": {rawZip(t, rawFiles(good, rawFile{name: "pump-1/bagit.txt/x"})...), "bagit.txt is a file, and bagit.txt/x lies in it", true},
		"folder twice":    {rawZip(t, rawFiles(good, rawFile{name: "pump-1/bagit.txt/"})...), "pump-1/bagit.txt stands twice", true},
		"case":            {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/PLAN.yaml"})...), "data/PLAN.yaml and data/plan.yaml differ in case alone", true},
		"link":            {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/l", content: []byte("/etc/passwd"), change: mode(fs.ModeSymlink | 0o777)})...), "pump-1/data/l is a link", true},
		"device":          {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/d", change: mode(fs.ModeDevice | 0o666)})...), "is no plain file", true},
		"folder as file":  {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/d", change: mode(fs.ModeDir | 0o755)})...), "is no plain file", true},
		"beside":          {rawZip(t, rawFiles(good, rawFile{name: "other/x"})...), "other/x lies beside the one folder", true},
		"no folder":       {rawZip(t, rawFile{name: "bagit.txt", content: []byte(declaration)}), "bagit.txt lies beside the one folder", true},
		"encrypted":       {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/e", change: func(h *zip.FileHeader) { h.Flags |= 1 }})...), "is encrypted", true},
		"other packing":   {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/e", change: func(h *zip.FileHeader) { h.Method = 93 }})...), "packed by method 93", true},
		"too many":        {rawZip(t, many...), "at most 10000 are read", true},
		"two sizes": {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/e", content: []byte("12345"),
			change: func(h *zip.FileHeader) { h.Method, h.CompressedSize64, h.UncompressedSize64 = zip.Store, 5, 6 }})...), "gives two sizes", true},
		"huge": {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/e", content: []byte("12345"), change: sized(1 << 40)})...), "data/e would have", true},
		"huge together": {rawZip(t, rawFiles(good,
			rawFile{name: "pump-1/data/1", content: []byte("12345"), change: sized(maxBagFile)}, rawFile{name: "pump-1/data/2", content: []byte("12345"), change: sized(maxBagFile)},
			rawFile{name: "pump-1/data/3", content: []byte("12345"), change: sized(maxBagFile)}, rawFile{name: "pump-1/data/4", content: []byte("12345"), change: sized(maxBagFile)})...), "more than 1073741824 bytes together", true},
		"lying size":   {lying(t, rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/z", content: zeros})...), 1<<20, 10), "data/z: it cannot be read", false},
		"lying longer": {lying(t, rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/z", content: zeros})...), 1<<20, 1<<21), "data/z: it cannot be read", false},
		"extra":        {rawZip(t, rawFiles(good, rawFile{name: "pump-1/data/x"})...), "data/x is in the bag, but not in manifest-sha256.txt", false},
		"extra note":   {rawZip(t, rawFiles(good, rawFile{name: "pump-1/READ.txt"})...), "READ.txt is in the bag, but not in tagmanifest-sha512.txt", false},
		"fetch":        {rawZip(t, rawFiles(good, rawFile{name: "pump-1/fetch.txt"})...), "nothing is fetched", false},
		"weak":         {rawZip(t, rawFiles(good, rawFile{name: "pump-1/manifest-md5.txt"})...), "a manifest of this kind", false},
		"folders":      {rawZip(t, rawFiles(good, rawFile{name: "pump-1/more/x"})...), "no folder but data", false},
		"no zip":       {[]byte("text"), "not a bag", false},
		"empty":        {rawZip(t), "holds no bagit.txt", false},
		"other zip":    {rawZip(t, rawFile{name: "a/b"}), "holds no bagit.txt", false},
	} {
		path := inFile(t, c.archive)
		faults := checkBag(t, path)
		if c.want == "" && len(faults) > 0 || c.want != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: got %q, want %q", name, faults, c.want)
		}
		b, err := OpenBag(path)
		if err != nil {
			continue
		}
		if _, err := b.Read("data/plan.yaml"); (err != nil) != c.refused {
			t.Errorf("%s: reading on gives %v", name, err)
		}
		b.Close()
	}
}

// lying puts another length of the content into the list of names of an archive.
func lying(t testing.TB, archive []byte, is, says uint32) []byte {
	t.Helper()
	four := func(n uint32) []byte { return []byte{byte(n), byte(n >> 8), byte(n >> 16), byte(n >> 24)} }
	at := bytes.LastIndex(archive, four(is))
	if at < 0 {
		t.Fatal("the length is not in the archive")
	}
	out := bytes.Clone(archive)
	copy(out[at:], four(says))
	return out
}

// A list of names made to fill the memory is cut short.
func TestBag_longList(t *testing.T) {
	outside.Long(t)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := range 400_000 {
		if _, err := z.CreateRaw(&zip.FileHeader{Name: fmt.Sprint("a/", i)}); err != nil {
			t.Fatal(err)
		}
	}
	z.Close()
	if _, err := OpenBag(inFile(t, b.Bytes())); err == nil || !strings.Contains(err.Error(), "its list of names is longer") {
		t.Errorf("got %v", err)
	}
}

// A bag in a folder: links lead nowhere, and what is no plain file is named.
func TestBag_folders(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(secret, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(dir string) error
		want   string
	}{
		"nothing": {func(string) error { return nil }, ""},
		"link":    {func(dir string) error { return os.Symlink(secret, filepath.Join(dir, "data", "l")) }, "data/l is a link"},
		"link for a file": {func(dir string) error {
			return errors.Join(os.Remove(filepath.Join(dir, "bagit.txt")), os.Symlink(secret, filepath.Join(dir, "bagit.txt")))
		}, "bagit.txt is a link"},
		"link to a folder": {func(dir string) error { return os.Symlink(filepath.Dir(secret), filepath.Join(dir, "data", "more")) }, "data/more is a link"},
		"name":             {func(dir string) error { return os.WriteFile(filepath.Join(dir, "data", "a b"), nil, 0o644) }, "name \"data/a b\" is refused"},
		"folder name":      {func(dir string) error { return os.Mkdir(filepath.Join(dir, "data", "a%20b"), 0o755) }, "percent sign"},
		"extra":            {func(dir string) error { return os.WriteFile(filepath.Join(dir, ".DS_Store"), nil, 0o644) }, ".DS_Store is in the bag, but not in tagmanifest"},
		"missing":          {func(dir string) error { return os.Remove(filepath.Join(dir, "data", "plan.yaml")) }, "data/plan.yaml is missing: manifest-sha512.txt lists it"},
		"no manifest":      {func(dir string) error { return os.Remove(filepath.Join(dir, "manifest-sha512.txt")) }, "manifest-sha512.txt is missing"},
		"no tag manifest":  {func(dir string) error { return os.Remove(filepath.Join(dir, "tagmanifest-sha256.txt")) }, "tagmanifest-sha256.txt is missing"},
		"no counts":        {func(dir string) error { return os.Remove(filepath.Join(dir, "bag-info.txt")) }, "bag-info.txt is missing"},
		"not a bag":        {func(dir string) error { return os.Remove(filepath.Join(dir, "bagit.txt")) }, "not a bag"},
		"unreadable":       {func(dir string) error { return os.RemoveAll(dir) }, "no such file"},
	} {
		dir := testBag(t).folder(t)
		if err := c.change(dir); err != nil {
			t.Fatal(err)
		}
		faults := checkBag(t, dir)
		if c.want == "" && len(faults) > 0 || c.want != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: got %q, want %q", name, faults, c.want)
		}
	}
}

// An archive of any bytes is read within its bounds, and gives names inside the bag alone.
func FuzzBagArchive(f *testing.F) {
	good := testBag(f)
	f.Add(good.zipped(f))
	f.Add(rawZip(f, rawFile{name: "../x"}, rawFile{name: "pump-1/bagit.txt"}))
	f.Add(rawZip(f, rawFiles(good)...))
	f.Add([]byte("PK\x05\x06"))
	f.Fuzz(func(t *testing.T, archive []byte) {
		b, faults := checkArchive(archive)
		if b == nil {
			return
		}
		for _, name := range b.Names() {
			if validBagName(name) != nil && len(b.Refused) == 0 {
				t.Errorf("name %q", name)
			}
		}
		if len(faults) == 0 && !slices.Contains(b.Names(), "bagit.txt") {
			t.Error("nothing is wrong with what is no bag")
		}
		if len(faults) > 0 {
			return
		}
		for where, more := range map[string][]byte{"behind": append(bytes.Clone(archive), 0), "before": append([]byte{0}, archive...)} {
			if _, faults := checkArchive(more); len(faults) == 0 {
				t.Errorf("a byte %s the archive is no fault", where)
			}
		}
	})
}
