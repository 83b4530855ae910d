package report

import (
	"bytes"
	"path"
)

// The handover data lie in a workbook as a part of their own, byte for byte the JSON
// whose SHA-256 its cover shows. A relationship of the package leads to the part, so
// that programs that do not know it leave it alone or drop it, and nothing else.
const (
	dataPart     = "handback/handover-data.json"
	dataLink     = "urn:handback:handover-data"
	dataType     = "application/json"
	packageLinks = "_rels/.rels"
)

// addData puts the part into a package that has everything else already.
func (z *steadyZip) addData() {
	z.parts[dataPart] = bytes.NewBuffer(z.data)
	before := func(part, end, more string) {
		z.parts[part] = bytes.NewBuffer(bytes.Replace(z.parts[part].Bytes(), []byte(end), []byte(more+end), 1))
	}
	before("[Content_Types].xml", "</Types>", `<Override PartName="/`+dataPart+`" ContentType="`+dataType+`"></Override>`)
	before(packageLinks, "</Relationships>", `<Relationship Id="rIdHandover" Type="`+dataLink+`" Target="`+dataPart+`"></Relationship>`)
}

// handoverData are the data that a workbook from outside carries; ok is false where it
// carries none.
func (p packed) handoverData() (data []byte, ok bool) {
	links, err := p.linksIn(packageLinks)
	if err != nil {
		return nil, false
	}
	for _, l := range links {
		if l.Type == dataLink && path.Clean("/"+l.Target) == "/"+dataPart {
			data, ok = p[dataPart]
		}
	}
	return data, ok
}
