package report

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
)

// Bounds on a workbook that comes from outside. A field sheet of a hundred checks
// stays far below each.
const (
	maxArchive  = 20 << 20 // bytes of the file, most of them pictures
	maxParts    = 500      // entries of the archive
	maxPart     = 16 << 20 // bytes of one entry, unpacked
	maxUnpacked = 48 << 20 // bytes of all XML entries
	maxElements = 600_000  // XML elements of all entries
	maxDepth    = 64       // nested elements
)

// packed is the XML entries of a workbook, and its handover data, by name.
type packed map[string][]byte

// openParts unpacks a workbook from outside, within bounds, and refuses what no
// field sheet holds: entries that stand twice, document types, macros, links to
// other files, embedded objects, XML that does not end. The error says which.
func openParts(data []byte) (packed, error) {
	switch {
	case len(data) > maxArchive:
		return nil, fmt.Errorf("file of %d bytes: at most %d are read", len(data), maxArchive)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		return nil, errors.New("it is locked with a password, or saved in the format of old: save it as .xlsx without a password")
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("it is no workbook (.xlsx), or it is cut off: %w", err)
	}
	if len(z.File) > maxParts {
		return nil, fmt.Errorf("archive of %d entries: at most %d are read", len(z.File), maxParts)
	}
	p, seen := packed{}, map[string]bool{}
	unpacked, elements := 0, 0
	for _, f := range z.File {
		if seen[strings.ToLower(f.Name)] {
			return nil, fmt.Errorf("entry %q stands twice in the archive", f.Name)
		}
		seen[strings.ToLower(f.Name)] = true
		if err := mayHold(f.Name); err != nil {
			return nil, err
		}
		if !isXML(f.Name) && f.Name != dataPart {
			continue
		}
		part, err := unpack(f, maxUnpacked-unpacked)
		if err != nil {
			return nil, fmt.Errorf("entry %q: %w", f.Name, err)
		}
		unpacked += len(part)
		p[f.Name] = part
		if !isXML(f.Name) {
			continue
		}
		n, err := soundXML(part, maxElements-elements)
		if err != nil {
			return nil, fmt.Errorf("entry %q: %w", f.Name, err)
		}
		elements += n
	}
	return p, p.links()
}

func isXML(name string) bool {
	ext := strings.ToLower(path.Ext(name))
	return ext == ".xml" || ext == ".rels"
}

// foreign are the places of a package where what is more than a table lives
// (ECMA-376, part 1, 12 and 15), by their beginning in lower case.
var foreign = map[string]string{
	"xl/vbaproject": "macros", "xl/macrosheets/": "macros", "xl/dialogsheets/": "macros", "xl/externallinks/": "links to other workbooks",
	"xl/embeddings/": "embedded objects", "xl/activex/": "controls", "xl/ctrlprops/": "controls", "xl/connections": "connections to outside data",
	"xl/querytables/": "connections to outside data", "xl/model/": "connections to outside data", "customui/": "macros",
}

// mayHold refuses entries by their name. Pictures of a page and settings of a
// printer are put in by programs that save a workbook; they are not opened.
func mayHold(name string) error {
	low := strings.ToLower(name)
	if low != path.Clean(low) && low != path.Clean(low)+"/" || strings.HasPrefix(low, "..") || strings.HasPrefix(low, "/") || strings.ContainsAny(low, "\\\x00") {
		return fmt.Errorf("entry %q: a plain path inside the archive is accepted", name)
	}
	for start, what := range foreign {
		if strings.HasPrefix(low, start) {
			return fmt.Errorf("it holds %s (%q): save it as a workbook without them", what, name)
		}
	}
	switch ext := path.Ext(low); {
	case isXML(low), name == dataPart, strings.HasSuffix(low, "/"), slices.Contains([]string{".png", ".jpg", ".jpeg", ".emf", ".wmf"}, ext):
	case ext == ".bin" && strings.HasPrefix(low, "xl/printersettings/"):
	case ext == ".vml" && strings.HasPrefix(low, "xl/drawings/"):
	default:
		return fmt.Errorf("entry %q is not part of a plain workbook", name)
	}
	return nil
}

// unpack reads an entry, whatever size it claims.
func unpack(f *zip.File, room int) ([]byte, error) {
	limit := min(maxPart, room)
	if f.UncompressedSize64 > uint64(limit) {
		return nil, fmt.Errorf("it says it unpacks to %d bytes: %d are read here", f.UncompressedSize64, limit)
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, int64(limit)+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("it is damaged: %w", err)
	case len(data) > limit:
		return nil, fmt.Errorf("it unpacks to more than %d bytes", limit)
	}
	return data, nil
}

// soundXML reads a part to its end and counts its elements.
func soundXML(data []byte, room int) (elements int, err error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	depth, roots := 0, 0
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) && roots == 1 {
			return elements, nil
		}
		if err != nil {
			return 0, fmt.Errorf("not sound XML: %w", err)
		}
		switch tok.(type) {
		case xml.Directive:
			return 0, errors.New("it declares a document type: no workbook does")
		case xml.StartElement:
			if depth == 0 {
				roots++
			}
			depth++
			if elements++; elements > room || depth > maxDepth || roots > 1 {
				return 0, fmt.Errorf("more than one root, %d levels or %d elements", maxDepth, maxElements)
			}
		case xml.EndElement:
			depth--
		}
	}
}

// link is a relationship of a part (ECMA-376, part 2, 9.3).
type link struct {
	ID     string `xml:"Id,attr"`
	Type   string `xml:"Type,attr"`
	Target string `xml:"Target,attr"`
	Mode   string `xml:"TargetMode,attr"`
}

// links refuses every relationship that leads out of the file, and content that is
// declared as macros or objects whatever its name.
func (p packed) links() error {
	for _, name := range sortedKeys(p) {
		if !strings.HasSuffix(strings.ToLower(name), ".rels") {
			continue
		}
		all, err := p.linksIn(name)
		if err != nil {
			return err
		}
		for _, l := range all {
			if l.Mode != "" && !strings.EqualFold(l.Mode, "Internal") {
				return fmt.Errorf("it holds a link to %.100q (%s): take it out", l.Target, name)
			}
		}
	}
	type declared struct {
		Extension   string `xml:",attr"`
		ContentType string `xml:",attr"`
	}
	var types struct {
		Defaults  []declared `xml:"Default"`
		Overrides []declared `xml:"Override"`
	}
	data, ok := p["[Content_Types].xml"]
	if !ok {
		return errors.New("it is no workbook: its list of content types is missing")
	}
	if err := xml.Unmarshal(data, &types); err != nil {
		return fmt.Errorf("[Content_Types].xml: %w", err)
	}
	for _, t := range append(types.Defaults, types.Overrides...) {
		low := strings.ToLower(t.ContentType)
		if strings.EqualFold(t.Extension, "bin") {
			continue // some programs declare it in every workbook; mayHold lets no such entry in
		}
		for _, word := range []string{"macro", "vba", "oleobject", "activex", "externallink"} {
			if strings.Contains(low, word) {
				return fmt.Errorf("it declares content of type %.100q: save it as a plain workbook (.xlsx)", t.ContentType)
			}
		}
	}
	return nil
}

func (p packed) linksIn(name string) ([]link, error) {
	var doc struct {
		Links []link `xml:"Relationship"`
	}
	data, ok := p[name]
	if !ok {
		return nil, nil
	}
	if err := xml.Unmarshal(data, &doc); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return doc.Links, nil
}

// follow gives the targets of a part's links, by id and by the last word of their
// type. of is "" for the package itself.
func (p packed) follow(of string) (byID, byType map[string]string, err error) {
	dir, base := path.Split(of)
	all, err := p.linksIn(dir + "_rels/" + base + ".rels")
	byID, byType = map[string]string{}, map[string]string{}
	for _, l := range all {
		target := strings.TrimPrefix(l.Target, "/")
		if target == l.Target {
			target = path.Join(dir, l.Target)
		}
		byID[l.ID] = target
		byType[path.Base(l.Type)] = target
	}
	return byID, byType, err
}
