package grid

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
)

// SteadyZip writes the parts of a workbook so that equal workbooks have equal
// bytes: parts sorted by name, one fixed time, sorted default content types, and
// the core properties written here with their customary prefixes, which some
// readers insist on.
type SteadyZip struct {
	Into  io.Writer
	Parts map[string]*bytes.Buffer
	Core  []byte
	data  []byte // the handover data, nil for none
}

// CorePart holds the core properties of a workbook.
const CorePart = "docProps/core.xml"

// zipTime is the earliest moment a zip entry can carry.
var zipTime = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// Create gives the writer of a part.
func (z *SteadyZip) Create(name string) (io.Writer, error) {
	b := &bytes.Buffer{}
	z.Parts[name] = b
	return b, nil
}

// AddFS is asked for by the interface; no workbook of ours has loose files.
func (z *SteadyZip) AddFS(fs.FS) error { return errors.New("workbook: files cannot be added to it") }

// Close writes all parts.
func (z *SteadyZip) Close() error {
	z.Parts[CorePart] = bytes.NewBuffer(z.Core)
	if z.data != nil {
		z.addData()
	}
	w := zip.NewWriter(z.Into)
	for _, name := range slices.Sorted(maps.Keys(z.Parts)) {
		data := z.Parts[name].Bytes()
		switch {
		case name == "[Content_Types].xml":
			data = sortedDefaults(data)
		case strings.HasPrefix(name, "xl/worksheets/"):
			data = bytes.ReplaceAll(data, []byte(underscore), []byte("_x005F_"))
			data = switches(drawingLink.ReplaceAll(withErrors(data), []byte(`<drawing xmlns:r="$1" r:id=`)))
		case name == "xl/styles.xml":
			data = switches(data)
		}
		part, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: zipTime})
		if err != nil {
			return err
		}
		if _, err := part.Write(data); err != nil {
			return err
		}
	}
	return w.Close()
}

// drawingLink is how the library links a sheet to its drawing: with a prefix of its own,
// while some readers look for the customary one alone.
var drawingLink = regexp.MustCompile(`<drawing xmlns:relationships="([^"]*)" relationships:id=`)

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
