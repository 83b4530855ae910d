package grid

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// Rows are written as the library's own stream writer has them, which knows nothing of
// ours.
func TestRows_as_the_library_writes_them(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.OneOf(
			rapid.StringMatching(`[a-zA-Z ÄΩ中"'<>&\n\t±_]{0,12}`).AsAny(),
			rapid.IntRange(-1e9, 1e9).AsAny(),
			rapid.Float64().AsAny(),
			rapid.SampledFrom([]any{nil, "", 0.1 + 0.2, 1e21, 1.0 / 3, 123456789012345678.0, -2.5e-9, math.NaN(), math.MaxFloat64}),
		), 1, 6).Draw(t, "values")
		formulas := rapid.SliceOfN(rapid.SampledFrom([]string{"", "", `IF(A1>0,"a & b",B1)`, "'What''s read'!A1<2"}), len(values), len(values)).Draw(t, "formulas")
		height := rapid.SampledFrom([]float64{0, 11, 12.25}).Draw(t, "height")

		b := NewBook("x", "x", time.Time{})
		defer b.Close()
		s := b.Sheet("Rows")
		cells, boxes := make([]any, len(values)), []Box{}
		for i, v := range values {
			if x, ok := v.(float64); ok && formulas[i] != "" && (math.IsNaN(x) || math.IsInf(x, 0)) {
				v = nil // we have text there
			}
			s.Widths = append(s.Widths, 10)
			boxes = append(boxes, Box{Col: i + 1, Span: 1, Value: v, Formula: formulas[i]})
			cells[i] = excelize.Cell{StyleID: 1, Value: v, Formula: formulas[i]}
		}
		s.Put(height, boxes...)
		if _, err := b.style(0); err != nil {
			t.Fatal(err)
		}
		var got bytes.Buffer
		if err := s.writeRows(&got); err != nil {
			t.Fatal(err)
		}
		if want := libraryRows(t, cells, height); got.String() != want {
			t.Fatalf("wrote\n%s\nthe library\n%s", got.String(), want)
		}
	})
}

func libraryRows(t *rapid.T, cells []any, height float64) string {
	f := excelize.NewFile()
	defer f.Close()
	style, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil || style != 1 {
		t.Fatal(style, err)
	}
	w, err := f.NewStreamWriter("Sheet1")
	if err == nil {
		err = w.SetRow("A1", cells, excelize.RowOpts{Height: height})
	}
	if err == nil {
		err = w.Flush()
	}
	var out bytes.Buffer
	if err == nil {
		err = f.Write(&out)
	}
	if err != nil {
		t.Fatal(err)
	}
	p, err := OpenParts(out.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?s)<sheetData>(.*)</sheetData>`).FindSubmatch(p["xl/worksheets/sheet1.xml"])
	return string(m[1])
}

// What readers would take for an escape is one that stands for itself, and a result that is
// an error is one (ECMA-376, part 1, 22.9.2.19 and 18.18.11).
func TestRows_escapes_and_errors(t *testing.T) {
	b := NewBook("x", "x", time.Time{})
	defer b.Close()
	s := b.Sheet("Rows")
	s.Widths = []float64{10, 10, 10}
	s.Put(0, At(1, "_x0041_x0042_ _x00_", Look{}), Box{Col: 2, Span: 1, Value: NoNumber, Formula: "NA()"}, At(3, NoNumber, Look{}))
	if _, err := b.style(0); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := s.writeRows(&out); err != nil {
		t.Fatal(err)
	}
	want := `<row r="1"><c r="A1" s="1" t="inlineStr"><is><t>_x005F_x0041_x005F_x0042_ _x00_</t></is></c>` +
		`<c r="B1" s="1" t="e"><f>NA()</f><v>#NUM!</v></c><c r="C1" s="1" t="inlineStr"><is><t>#NUM!</t></is></c></row>`
	if out.String() != want {
		t.Errorf("wrote\n%s\nwant\n%s", out.String(), want)
	}
}

// Text comes back from XML as it was, whatever stands in it.
func TestAppendEscaped(t *testing.T) {
	for _, text := range []string{"", "plain", "Ω ± 5", "a\nb\tc", `<&>"'`, "\x7f", "\ufffe", "\xff", strings.Repeat("中", 50)} {
		for _, lines := range []bool{true, false} {
			want := strings.NewReplacer("\ufffe", "\ufffd", "\xff", "\ufffd").Replace(text)
			d := xml.NewDecoder(bytes.NewReader(append(append([]byte("<t>"), appendEscaped(nil, []byte(text), lines)...), "</t>"...)))
			got := ""
			for {
				token, err := d.Token()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatalf("%q: %v", text, err)
				}
				if c, ok := token.(xml.CharData); ok {
					got += string(c)
				}
			}
			if got != want {
				t.Errorf("%q came back as %q", text, got)
			}
		}
	}
}
