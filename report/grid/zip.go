package grid

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/xml"
	"errors"
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
	names  []byte // of cells, as the part of the workbook lists them
	data   []byte // the handover data, nil for none
	sheet  string // that is being written, "" for none
	packed map[string]packedPart

	deflate *flate.Writer // one for all parts
}

// packedPart is a part as it stands in the archive.
type packedPart struct {
	data []byte
	size uint64
	crc  uint32
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
	var out bytes.Buffer
	if z.packed == nil {
		z.packed = map[string]packedPart{}
		w, err := flate.NewWriter(&out, flate.DefaultCompression)
		if err != nil {
			return err
		}
		z.deflate = w
	}
	w := z.deflate
	w.Reset(&out)
	sum, size := crc32.NewIEEE(), 0
	for _, piece := range pieces(name, z.Parts[name].Bytes()) {
		sum.Write(piece) // a hash takes everything
		size += len(piece)
		if _, err := w.Write(piece); err != nil {
			return err
		}
	}
	if err := w.Close(); err != nil {
		return err
	}
	z.packed[name] = packedPart{out.Bytes(), uint64(size), sum.Sum32()}
	delete(z.Parts, name)
	return nil
}

// AddFS is asked for by the interface; no workbook of ours has loose files.
func (z *SteadyZip) AddFS(fs.FS) error { return errors.New("workbook: files cannot be added to it") }

// Close writes all parts.
func (z *SteadyZip) Close() error {
	if err := z.packSheet(); err != nil {
		return err
	}
	z.Parts[CorePart] = bytes.NewBuffer(z.Core)
	z.before(bookPart, "</definedNames>", z.names)
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
		h := &zip.FileHeader{Name: name, Method: zip.Deflate, CRC32: p.crc, CompressedSize64: uint64(len(p.data)), UncompressedSize64: p.size}
		//lint:ignore SA1019 CreateRaw looks at no other field for the time
		h.ModifiedDate = 1<<5 | 1 // 1 January 1980, the earliest there is
		part, err := w.CreateRaw(h)
		if err != nil {
			return err
		}
		if _, err := part.Write(p.data); err != nil {
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

// pieces are what a part is put together of, mended where readers would not take what
// the library writes. The rows of a sheet are most of a book and seldom need it.
func pieces(name string, data []byte) [][]byte {
	switch {
	case name == "[Content_Types].xml":
		data = sortedDefaults(data)
	case name == "xl/styles.xml", name == bookPart:
		data = switches(data)
	case strings.HasPrefix(name, "xl/worksheets/"):
		from, to := bytes.Index(data, []byte("<sheetData>")), bytes.LastIndex(data, []byte("</sheetData>"))
		if from < 0 || to < from {
			break // the links of a sheet
		}
		rows := withErrors(data[from:to])
		if bytes.Contains(rows, []byte(underscore)) {
			rows = bytes.ReplaceAll(rows, []byte(underscore), []byte("_x005F_"))
		}
		end := drawingLink().ReplaceAll(switches(data[to:]), []byte(`<drawing xmlns:r="$1" r:id=`))
		return [][]byte{switches(data[:from]), rows, end}
	}
	return [][]byte{data}
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

// withErrors marks results that are errors as such: the library writes them as text.
func withErrors(data []byte) []byte {
	if !bytes.Contains(data, []byte("</f><v>"+NoNumber+"</v>")) {
		return data
	}
	re := regexp.MustCompile(` t="str"><f>([^<]*)</f><v>` + NoNumber + `</v>`)
	return re.ReplaceAll(data, []byte(` t="e"><f>$1</f><v>`+NoNumber+`</v>`))
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
