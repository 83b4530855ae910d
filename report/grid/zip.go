package grid

import (
	"archive/zip"
	"bytes"
	"cmp"
	"compress/flate"
	"encoding/xml"
	"errors"
	"hash"
	"hash/crc32"
	"io"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// SteadyZip writes the parts of a workbook so that equal workbooks have equal
// bytes: parts sorted by name, one fixed time, sorted default content types, and
// the core properties written here with their customary prefixes, which some
// readers insist on. A sheet is packed as soon as it is whole, so that one of them
// at most is held at its full size.
type SteadyZip struct {
	Into   io.Writer
	Parts  map[string]*bytes.Buffer
	Core   []byte
	book   *Book             // whose names are listed, nil for none
	rows   map[string]*Sheet // whose rows a part is to hold
	data   []byte            // the handover data, nil for none
	sheet  string            // that is being written, "" for none
	packed map[string]*packedPart

	store   store
	deflate *flate.Writer // one for all parts
}

// packedPart is a part as it stands in the archive, and takes what is to be packed.
type packedPart struct {
	packed pile
	by     *flate.Writer
	size   uint64 // before it was packed, and after
	short  uint64
	sum    hash.Hash32
}

func (p *packedPart) Write(data []byte) (int, error) {
	p.sum.Write(data) // a hash takes everything
	p.size += uint64(len(data))
	return p.by.Write(data)
}

// shortened takes what comes out of the packer.
type shortened struct{ *packedPart }

func (s shortened) Write(data []byte) (int, error) {
	s.short += uint64(len(data))
	return s.packed.Write(data)
}

// CorePart holds the core properties of a workbook.
const CorePart = "docProps/core.xml"

const bookPart = "xl/workbook.xml"

// Create gives the writer of a part.
func (z *SteadyZip) Create(name string) (io.Writer, error) {
	if err := z.packSheet(); err != nil {
		return nil, err
	}
	if strings.HasPrefix(name, "xl/worksheets/") {
		z.sheet = name
	}
	b := &bytes.Buffer{}
	z.Parts[name] = b
	return b, nil
}

// packSheet packs the sheet that was written last.
func (z *SteadyZip) packSheet() error {
	if z.sheet == "" {
		return nil
	}
	name := z.sheet
	z.sheet = ""
	return z.pack(name)
}

// pack packs a part and lets go of it.
func (z *SteadyZip) pack(name string) error {
	p := &packedPart{packed: pile{in: &z.store}, sum: crc32.NewIEEE()}
	if z.packed == nil {
		z.packed = map[string]*packedPart{}
		w, err := flate.NewWriter(io.Discard, flate.DefaultCompression)
		if err != nil {
			return err
		}
		z.deflate = w
	}
	p.by = z.deflate
	p.by.Reset(shortened{p})
	if err := z.fill(p, name, z.Parts[name].Bytes()); err != nil {
		return err
	}
	z.packed[name] = p
	delete(z.Parts, name)
	return p.by.Close()
}

// AddFS is asked for by the interface; no workbook of ours has loose files.
func (z *SteadyZip) AddFS(fs.FS) error { return errors.New("workbook: files cannot be added to it") }

// Close writes all parts.
func (z *SteadyZip) Close() error {
	defer z.store.close()
	if err := z.packSheet(); err != nil {
		return err
	}
	z.Parts[CorePart] = bytes.NewBuffer(z.Core)
	if z.data != nil {
		z.addData()
	}
	for name := range maps.Clone(z.Parts) {
		if err := z.pack(name); err != nil {
			return err
		}
	}
	w := zip.NewWriter(z.Into)
	for _, name := range slices.Sorted(maps.Keys(z.packed)) {
		p := z.packed[name]
		h := &zip.FileHeader{Name: name, Method: zip.Deflate, CRC32: p.sum.Sum32(), CompressedSize64: p.short, UncompressedSize64: p.size}
		//lint:ignore SA1019 CreateRaw looks at no other field for the time
		h.ModifiedDate = 1<<5 | 1 // 1 January 1980, the earliest there is
		part, err := w.CreateRaw(h)
		if err != nil {
			return err
		}
		if _, err := p.packed.WriteTo(part); err != nil {
			return err
		}
	}
	return w.Close()
}

// before puts more before the end of an element of a part.
func (z *SteadyZip) before(part, end string, more []byte) {
	if len(more) > 0 {
		z.Parts[part] = bytes.NewBuffer(bytes.Replace(z.Parts[part].Bytes(), []byte(end), append(more, end...), 1))
	}
}

// fill writes a part, mended where readers would not take what the library writes.
func (z *SteadyZip) fill(w io.Writer, name string, data []byte) error {
	put := func(data []byte) error {
		_, err := w.Write(data)
		return err
	}
	sheet := z.rows[name]
	switch {
	case name == "[Content_Types].xml":
		data = sortedDefaults(data)
	case name == "xl/styles.xml":
		data = switches(data)
	case name == bookPart:
		data = switches(data)
		if head, tail, ok := bytes.Cut(data, []byte("</definedNames>")); ok && z.book != nil {
			return cmp.Or(put(head), z.book.writeNames(w), put([]byte("</definedNames>")), put(tail))
		}
	case sheet != nil:
		const rows = "<sheetData>"
		head, tail, _ := bytes.Cut(data, []byte(rows))
		tail = drawingLink().ReplaceAll(switches(tail), []byte(`<drawing xmlns:r="$1" r:id=`))
		return cmp.Or(put(switches(head)), put([]byte(rows)), sheet.writeRows(w), put(tail))
	}
	return put(data)
}

// drawingLink is how the library links a sheet to its drawing: with a prefix of its own,
// while some readers look for the customary one alone.
var drawingLink = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`<drawing xmlns:relationships="([^"]*)" relationships:id=`)
})

// switches writes what is on or off as 1 and 0: some readers take no other word for them.
// Text holds no ", it is written as an entity there.
func switches(data []byte) []byte {
	return bytes.ReplaceAll(bytes.ReplaceAll(data, []byte(`="true"`), []byte(`="1"`)), []byte(`="false"`), []byte(`="0"`))
}

// sortedDefaults puts the Default elements of a content types part in order.
func sortedDefaults(data []byte) []byte {
	re := regexp.MustCompile(`<Default [^>]*>(</Default>)?`)
	all := re.FindAllString(string(data), -1)
	slices.Sort(all)
	next := 0
	return re.ReplaceAllFunc(data, func([]byte) []byte {
		next++
		return []byte(all[next-1])
	})
}

// coreXML is the core properties part (ECMA-376, part 2, annex D). Both dates are
// those of the job's last entry: a handover made again from the same job is equal.
func coreXML(title, creator string, at time.Time) []byte {
	text := func(s string) string {
		var b strings.Builder
		xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
		return b.String()
	}
	when := at.UTC().Format(time.RFC3339)
	return []byte(xml.Header + `<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" ` +
		`xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">` +
		`<dc:title>` + text(title) + `</dc:title><dc:creator>` + text(creator) + `</dc:creator>` +
		`<cp:lastModifiedBy>` + text(creator) + `</cp:lastModifiedBy>` +
		`<dcterms:created xsi:type="dcterms:W3CDTF">` + when + `</dcterms:created>` +
		`<dcterms:modified xsi:type="dcterms:W3CDTF">` + when + `</dcterms:modified></cp:coreProperties>`)
}
