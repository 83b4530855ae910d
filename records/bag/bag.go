package bag

import (
	"archive/zip"
	"cmp"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"handback/records/chain"
)

// Files of a bag (BagIt 1.0, RFC 8493) beside its payload, which lies under data/.
const (
	BagPayload  = "data/"
	Declaration = "bagit.txt"
	BagInfoFile = "bag-info.txt"
	BagNote     = "HOW-TO-CHECK.txt"
)

const declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

// Bounds of a bag, those of one that is written and of one that is read.
const (
	MaxBagFiles = 10_000
	MaxBagBytes = 1 << 30 // of all files together
)

// digests are the hashes that every file of a bag is listed with.
var digests = []struct {
	name string
	size int
	make func() hash.Hash
}{
	{"sha256", sha256.Size, sha256.New},
	{"sha512", sha512.Size, sha512.New},
}

func payloadManifest(digest string) string { return "manifest-" + digest + ".txt" }
func tagManifest(digest string) string     { return "tagmanifest-" + digest + ".txt" }

// BagInfo is what bag-info.txt says. Bytes and files of the payload are counted, not given.
// A bag made before it told of date, identifier and people has none of these.
type BagInfo struct {
	Program      string // that made the bag
	Date         string // 2026-05-12, of the newest entry: the same job gives the same bytes
	Organization string // that did the work and hands the bag over
	Address      string
	Contact      string
	Phone        string
	Email        string
	Job          string
	Identifier   string // of the job, which no other shares
	Description  string
	Group        string // what bags of the same sender belong together by
	Entries      int
	Head         string
	oxum         string
}

// OfRecord is what it says of the record alone: nothing of the maker, nothing that is
// counted.
func (i BagInfo) OfRecord() BagInfo {
	i.Program, i.oxum = "", ""
	return i
}

// infoLine is a line of bag-info.txt.
type infoLine struct {
	label, text string
	need        bool // it stands in every bag, those of before too
}

// lines are those of a bag, in their order: the reserved elements of RFC 8493, section
// 2.2.2, then who packed it and what of the record it holds. There External-Identifier may
// stand twice; Bagging-Date and Bag-Group-Identifier do not.
func (i BagInfo) lines() []infoLine {
	return []infoLine{
		{"Bag-Software-Agent", i.Program, true}, {"Bagging-Date", i.Date, false},
		{"Source-Organization", i.Organization, false}, {"Organization-Address", i.Address, false},
		{"Contact-Name", i.Contact, false}, {"Contact-Phone", i.Phone, false}, {"Contact-Email", i.Email, false},
		{"External-Identifier", i.Job, true}, {"External-Identifier", i.Identifier, false}, {"External-Description", i.Description, true},
		{"Bag-Group-Identifier", i.Group, false}, {"Payload-Oxum", i.oxum, true},
		{"Record-Entries", strconv.Itoa(i.Entries), true}, {"Record-Head", i.Head, true},
	}
}

func (i BagInfo) encode() ([]byte, error) {
	var out []byte
	for _, l := range i.lines() {
		if l.text == "" && !l.need {
			continue
		}
		if err := chain.CheckOneLine("bag: "+l.label, l.text, l.need); err != nil {
			return nil, err
		}
		out = fmt.Appendf(out, "%s: %s\n", l.label, l.text)
	}
	return out, nil
}

// BagFile is one file to put into a bag. Content is asked for once, when its turn has
// come, so that a bag of many photographs is never in memory as a whole.
type BagFile struct {
	Name    string // such as data/plan.yaml
	Content func() ([]byte, error)
}

// BagSink takes the files of a bag one after another.
type BagSink interface {
	Put(name string, content []byte) error
}

// WriteBag gives a bag to the sink: the payload, in the order of names, then the
// files about it, those of about among them by name. The same payload, info and about give
// the same bytes.
//
// Errors: a name that a bag does not hold, or twice; a bag that would be too large;
// what the sink or a file says. Then what the sink has is no bag.
func WriteBag(to BagSink, info BagInfo, about map[string][]byte, payload []BagFile) error {
	payload = slices.SortedFunc(slices.Values(payload), func(a, b BagFile) int { return strings.Compare(a.Name, b.Name) })
	if len(payload) > MaxBagFiles-16 {
		return fmt.Errorf("a bag of %d files: at most %d are kept", len(payload), MaxBagFiles-16)
	}
	w := bagWriter{to: to, lists: map[string]manifest{}}
	taken := map[string]bool{}
	for _, f := range payload {
		if taken[strings.ToLower(f.Name)] {
			return fmt.Errorf("bag: %s stands twice", f.Name)
		}
		taken[strings.ToLower(f.Name)] = true
		if !strings.HasPrefix(f.Name, BagPayload) {
			return fmt.Errorf("bag: %s is not under %s", f.Name, BagPayload)
		}
		content, err := f.Content()
		if err == nil {
			err = w.put(f.Name, content, payloadManifest)
		}
		if err != nil {
			return fmt.Errorf("bag: %s: %w", f.Name, err)
		}
	}
	info.oxum = fmt.Sprintf("%d.%d", w.bytes, len(payload))
	infoText, err := info.encode()
	if err != nil {
		return err
	}
	tags := map[string][]byte{Declaration: []byte(declaration), BagInfoFile: infoText}
	maps.Copy(tags, about)
	for _, d := range digests {
		tags[payloadManifest(d.name)] = w.lists[payloadManifest(d.name)].encode()
	}
	for _, name := range slices.Sorted(maps.Keys(tags)) {
		if err := w.put(name, tags[name], tagManifest); err != nil {
			return fmt.Errorf("bag: %s: %w", name, err)
		}
	}
	for _, d := range digests {
		if err := to.Put(tagManifest(d.name), w.lists[tagManifest(d.name)].encode()); err != nil {
			return fmt.Errorf("bag: %s: %w", tagManifest(d.name), err)
		}
	}
	return nil
}

type bagWriter struct {
	to    BagSink
	bytes int64
	lists map[string]manifest // by file name of the manifest
}

// put gives one file to the sink and lists it.
func (w *bagWriter) put(name string, content []byte, list func(digest string) string) error {
	if err := validBagName(name); err != nil {
		return err
	}
	if w.bytes += int64(len(content)); w.bytes > MaxBagBytes {
		return fmt.Errorf("with it the bag would have more than %d MiB", MaxBagBytes>>20)
	}
	for _, d := range digests {
		h := d.make()
		h.Write(content)
		m := w.lists[list(d.name)]
		if m == nil {
			m = manifest{}
			w.lists[list(d.name)] = m
		}
		m[name] = hex.EncodeToString(h.Sum(nil))
	}
	return w.to.Put(name, content)
}

// ZipSink writes the files of a bag into one zip archive, under one folder. They are
// stored as they are: what is worth compressing is small, and the bytes then hang on
// no version of a compressor.
type ZipSink struct {
	zip *zip.Writer
	top string
}

// NewZipSink begins an archive; top is the folder in it. Close ends it.
func NewZipSink(w io.Writer, top string) *ZipSink { return &ZipSink{zip.NewWriter(w), top} }

// Put adds a file.
func (z *ZipSink) Put(name string, content []byte) error {
	w, err := z.begin(name, crc32.ChecksumIEEE(content), uint64(len(content)))
	if err == nil {
		_, err = w.Write(content)
	}
	return err
}

// begin begins a file, whose content goes to the writer it gives. The lengths come
// before the content, so that every reader can stream it.
func (z *ZipSink) begin(name string, crc uint32, size uint64) (io.Writer, error) {
	h := &zip.FileHeader{Name: z.top + "/" + name, Method: zip.Store, CRC32: crc, CompressedSize64: size, UncompressedSize64: size}
	//lint:ignore SA1019 CreateRaw looks at no other field for the time
	h.ModifiedDate = 1<<5 | 1 // 1 January 1980, the earliest there is
	h.SetMode(0o644)
	return z.zip.CreateRaw(h)
}

// Close ends the archive; it is not whole before.
func (z *ZipSink) Close() error { return z.zip.Close() }

// Zip writes the files of a bag as the zip archive that ZipSink would have been given when
// it was packed: a bag in a folder and one in an archive then are the same bytes.
func (b *Bag) Zip(w io.Writer) error {
	if len(b.Refused) > 0 {
		return fmt.Errorf("bag: %s", b.Refused[0])
	}
	top := "bag"
	if info, err := b.Info(); err == nil && validBagName(info.Job) == nil && !strings.Contains(info.Job, "/") {
		top = info.Job
	}
	rank := func(name string) int {
		switch {
		case strings.HasPrefix(name, BagPayload):
			return 0
		case strings.HasPrefix(name, "tagmanifest-"):
			return 2
		}
		return 1
	}
	order := slices.SortedFunc(slices.Values(b.Names()), func(x, y string) int {
		return cmp.Or(rank(x)-rank(y), strings.Compare(x, y))
	})
	z := NewZipSink(w, top)
	for _, name := range order {
		content, err := b.Read(name)
		if err == nil {
			err = z.Put(name, content)
		}
		if err != nil {
			return fmt.Errorf("bag: %s: %w", name, err)
		}
	}
	return z.Close()
}
