package grid

import (
	"bytes"
	"path"
)

// The handover data lie in a workbook as a part of their own, byte for byte the JSON
// whose SHA-256 its certificate shows. A relationship of the package leads to the part, so
// that programs that do not know it leave it alone or drop it, and nothing else.
const (
	DataPart     = "handback/handover-data.json"
	DataLink     = "urn:handback:handover-data"
	dataType     = "application/json"
	packageLinks = "_rels/.rels"
)

// addData puts the part into a package that has everything else already.
func (z *SteadyZip) addData() {
	z.Parts[DataPart] = bytes.NewBuffer(z.data)
	z.before("[Content_Types].xml", "</Types>", []byte(`<Override PartName="/`+DataPart+`" ContentType="`+dataType+`"></Override>`))
	z.before(packageLinks, "</Relationships>", []byte(`<Relationship Id="rIdHandover" Type="`+DataLink+`" Target="`+DataPart+`"></Relationship>`))
}

// HandoverData are the data that a workbook from outside carries; ok is false where it
// carries none.
func (p Packed) HandoverData() (data []byte, ok bool) {
	links, err := p.linksIn(packageLinks)
	if err != nil {
		return nil, false
	}
	for _, l := range links {
		if l.Type == DataLink && path.Clean("/"+l.Target) == "/"+DataPart {
			data, ok = p[DataPart]
		}
	}
	return data, ok
}
