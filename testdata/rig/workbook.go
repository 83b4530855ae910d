package rig

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// CellAt is a cell of a workbook, by the name of its sheet and its own.
type CellAt struct{ Sheet, Cell string }

// Rewritten is a workbook with some of its cells' values changed in the file alone.
func Rewritten(t testing.TB, data []byte, values map[CellAt]string) []byte {
	t.Helper()
	sheets := map[string]string{}
	for i, name := range strings.Fields(SheetParts(t, data)) {
		sheets[strings.ReplaceAll(name, "_", " ")] = fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)
	}
	files := Parts(t, data)
	for c, value := range values {
		part := sheets[c.Sheet]
		old := regexp.MustCompile(`<c r="` + c.Cell + `"[^>]*>.*?</c>`).Find(files[part])
		is := regexp.MustCompile(`(<v>|<t[^>]*>)[^<]*(</v>|</t>)`).ReplaceAll(old, []byte("${1}"+value+"${2}"))
		if old == nil || bytes.Equal(old, is) {
			t.Fatalf("%s!%s holds %s, which cannot be changed to %s", c.Sheet, c.Cell, old, value)
		}
		files[part] = bytes.Replace(files[part], old, is, 1)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(files[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// SheetParts lists the sheets in the order of their files, spaces as underscores.
func SheetParts(t testing.TB, data []byte) string {
	var names []string
	for _, m := range regexp.MustCompile(`<sheet name="([^"]*)"`).FindAllSubmatch(Parts(t, data)["xl/workbook.xml"], -1) {
		names = append(names, strings.ReplaceAll(string(m[1]), " ", "_"))
	}
	return strings.Join(names, " ")
}

// Parts are the files inside a workbook.
func Parts(t testing.TB, data []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if _, twice := out[f.Name]; twice {
			t.Errorf("%s stands twice", f.Name)
		}
		out[f.Name] = content
	}
	return out
}
