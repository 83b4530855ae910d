package fieldsheet

import (
	"archive/zip"
	"bytes"
	"fmt"
	"hash/crc32"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// zipped is one entry of an archive.
type zipped struct {
	name string
	data []byte
}

func unzipped(t testing.TB, data []byte) []zipped {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var out []zipped
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, zipped{f.Name, b})
	}
	return out
}

func zipOf(t testing.TB, method uint16, parts ...zipped) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, p := range parts {
		f, err := w.CreateHeader(&zip.FileHeader{Name: p.name, Method: method})
		if err == nil {
			_, err = f.Write(p.data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// spliced replaces text in one part, which must hold it.
func spliced(t testing.TB, data []byte, part, old, put string) []byte {
	t.Helper()
	parts := unzipped(t, data)
	for i, p := range parts {
		if p.name == part {
			if !bytes.Contains(p.data, []byte(old)) {
				t.Fatalf("%s does not hold %q", part, old)
			}
			parts[i].data = bytes.Replace(p.data, []byte(old), []byte(put), 1)
			return zipOf(t, zip.Deflate, parts...)
		}
	}
	t.Fatalf("no part %s", part)
	return nil
}

func partOf(t testing.TB, data []byte, name string) []byte {
	t.Helper()
	for _, p := range unzipped(t, data) {
		if p.name == name {
			return p.data
		}
	}
	t.Fatalf("no part %s", name)
	return nil
}

// lying is an archive with one entry whose header claims another size.
func lying(t testing.TB, parts []zipped, claimed uint64) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for i, p := range parts {
		h := &zip.FileHeader{Name: p.name, Method: zip.Store, CRC32: crc32.ChecksumIEEE(p.data), CompressedSize64: uint64(len(p.data)), UncompressedSize64: uint64(len(p.data))}
		if i == len(parts)-1 {
			h.UncompressedSize64 = claimed
		}
		f, err := w.CreateRaw(h)
		if err == nil {
			_, err = f.Write(p.data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Every file that is more, or less, than a plain workbook is refused with its reason.
func TestReadFieldSheet_hostile(t *testing.T) {
	r := fresh(t)
	good := sheetOf(t, r)
	parts := unzipped(t, good)
	with := func(name, data string) []byte {
		return zipOf(t, zip.Deflate, append(slices.Clone(parts), zipped{name, []byte(data)})...)
	}
	bomb := strings.Repeat(" ", grid.MaxPart+1)
	big := "<a>" + strings.Repeat(" ", grid.MaxPart-100) + "</a>"
	files := map[string]struct {
		data []byte
		want string
	}{
		"empty":              {nil, "it is no workbook"},
		"not a zip":          {[]byte("PK\x03\x04 but no more"), "it is no workbook"},
		"cut off":            {good[:len(good)/2], "it is no workbook"},
		"old format":         {[]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), "locked with a password, or saved in the format of old"},
		"too large":          {make([]byte, grid.MaxArchive+1), "at most"},
		"no parts":           {zipOf(t, zip.Deflate), "content types is missing"},
		"twice the same":     {with("xl/workbook.xml", "<a/>"), `"xl/workbook.xml" stands twice`},
		"twice, other case":  {with("XL/workbook.XML", "<a/>"), "stands twice"},
		"bomb":               {with("xl/media.xml", bomb), "bytes"},
		"many large parts":   {zipOf(t, zip.Deflate, append(slices.Clone(parts), zipped{"a.xml", []byte(big)}, zipped{"b.xml", []byte(big)}, zipped{"c.xml", []byte(big)})...), "bytes"},
		"lying small":        {lying(t, parts, 10), "it is damaged"},
		"lying huge":         {lying(t, parts, 1<<40), "it says it unpacks to 1099511627776 bytes"},
		"document type":      {with("xl/x.xml", `<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>`), "it declares a document type"},
		"entity":             {with("xl/x.xml", `<a>&b;</a>`), "not sound XML"},
		"cut XML":            {with("xl/x.xml", `<a><b></b>`), "not sound XML"},
		"two roots":          {with("xl/x.xml", `<a></a><a></a>`), "more than one root"},
		"deep":               {with("xl/x.xml", strings.Repeat("<a>", 100)+strings.Repeat("</a>", 100)), "levels"},
		"other encoding":     {with("xl/x.xml", `<?xml version="1.0" encoding="UTF-16"?><a/>`), "not sound XML"},
		"macros":             {with("xl/vbaProject.bin", "x"), "macros"},
		"embedded":           {with("xl/embeddings/oleObject1.bin", "x"), "embedded objects"},
		"controls":           {with("xl/activeX/activeX1.xml", "<a/>"), "controls"},
		"other workbook":     {with("xl/externalLinks/externalLink1.xml", "<a/>"), "links to other workbooks"},
		"connections":        {with("xl/connections.xml", "<a/>"), "connections to outside data"},
		"program":            {with("xl/run.exe", "x"), "not part of a plain workbook"},
		"path out":           {with("../x.xml", "<a/>"), "a plain path"},
		"backslash":          {with(`xl\x.xml`, "<a/>"), "a plain path"},
		"outside link":       {with("xl/worksheets/_rels/sheet99.xml.rels", `<Relationships><Relationship Id="a" Type="b" Target="http://example.org/" TargetMode="External"/></Relationships>`), "a link to \"http://example.org/\""},
		"macro type":         {spliced(t, good, "[Content_Types].xml", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml", "application/vnd.ms-excel.sheet.macroEnabled.main+xml"), "declares content"},
		"row out of bounds":  {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="900000"><c r="A900000"><v>1</v></c></row></sheetData>`), "20000 rows"},
		"column too far":     {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="5000"><c r="XFD5000"><v>1</v></c></row></sheetData>`), "256 columns"},
		"no such row":        {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="-5"><c><v>1</v></c></row></sheetData>`), "columns are read"},
		"cell in other row":  {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="300"><c r="A1"><v>1</v></c></row></sheetData>`), `row 300 holds a cell "A1"`},
		"cell twice":         {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="300"><c r="A300"><v>1</v></c><c r="A300"><v>2</v></c></row></sheetData>`), "stands twice"},
		"no such string":     {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="300"><c r="A300" t="s"><v>99999</v></c></row></sheetData>`), "no shared string"},
		"not a number":       {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="300"><c r="A300"><v>1e999</v></c></row></sheetData>`), "is no number"},
		"unknown type":       {spliced(t, good, "xl/worksheets/sheet2.xml", "</sheetData>", `<row r="300"><c r="A300" t="zz"><v>1</v></c></row></sheetData>`), "not known"},
		"sheet without part": {spliced(t, good, "xl/_rels/workbook.xml.rels", "worksheets/sheet2.xml", "worksheets/sheet77.xml"), "has no content"},
		"two sheets alike":   {spliced(t, good, "xl/workbook.xml", `name="hv"`, `name="ir"`), `sheet "ir" stands twice`},
	}
	many := slices.Clone(parts)
	for i := range grid.MaxParts {
		many = append(many, zipped{fmt.Sprintf("xl/x%d.xml", i), []byte("<a/>")})
	}
	files["many parts"] = struct {
		data []byte
		want string
	}{zipOf(t, zip.Deflate, many...), "at most 500"}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f := files[name]
		p, errs, err := Read(f.data, r.Job(), Options{ReadingOptions: ReadingOptions{Now: r.Now.Add(time.Hour)}})
		if err == nil || p != nil || errs != nil {
			t.Errorf("%s is taken: %+v, %v", name, p, errs)
			continue
		}
		if !strings.Contains(err.Error(), f.want) {
			t.Errorf("%s: %v, want %s", name, err, f.want)
		}
	}
}

// Whatever is changed in the parts of a filled sheet, or in its bytes, reading ends,
// and what it gives are answers of the job's own checks that read the same again.
func FuzzReadFieldSheet(f *testing.F) {
	r := fresh(f)
	good := filledIn(f, r, sheetOf(f, r), map[string]any{"hv/value": 11.2, "volts/l2l3": "441.20", "ir/+repeat": "again", "ir/p1": "> 1 GΩ"})
	parts := unzipped(f, good)
	job, o := r.Job(), Options{ReadingOptions: ReadingOptions{Now: r.Now.Add(time.Hour)}, Formulas: true}
	f.Add(uint8(255), uint32(0), []byte("PK"))
	for i := range parts {
		f.Add(uint8(i), uint32(len(parts[i].data)/2), []byte("<"))
		f.Add(uint8(i), uint32(len(parts[i].data)/3), []byte("9"))
	}
	f.Fuzz(func(t *testing.T, part uint8, at uint32, put []byte) {
		over := func(data []byte) []byte {
			data = bytes.Clone(data)
			copy(data[int(at)%max(1, len(data)):], put)
			return data
		}
		data := good
		if int(part) < len(parts) {
			changed := slices.Clone(parts)
			changed[part].data = over(changed[part].data)
			data = zipOf(t, zip.Store, changed...)
		} else {
			data = over(data)
		}
		p, errs, err := Read(data, job, o)
		if err != nil || len(errs) > 0 {
			if p != nil {
				t.Fatalf("both a proposal and faults: %v, %v", errs, err)
			}
			return
		}
		sound(t, job, p)
	})
}

// sound demands that a proposal holds only answers that its checks ask.
func sound(t *testing.T, job *report.Job, p *Proposal) {
	for _, c := range p.Checks {
		s := job.State(c.Check.ID)
		if s == nil || c.Attempt < 1 || c.Attempt > len(s.Attempts)+1 {
			t.Fatalf("check %s, attempt %d", c.Check.ID, c.Attempt)
		}
		form := job.Input(c.Check, time.Time{}).Form()
		for key, a := range c.Answers {
			asked := false
			for _, field := range form {
				asked = asked || field.Key == key
			}
			if !asked || a.Typed == "" || !quantity.Finite(a.Value) || c.Places[key] == "" {
				t.Fatalf("%s of check %s: %+v at %q", key, c.Check.ID, a, c.Places[key])
			}
		}
	}
}
