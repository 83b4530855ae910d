// Package recalc has LibreOffice work workbooks out anew, for tests that compare
// the results that stand in a workbook with those.
package recalc

import (
	"archive/zip"
	"bytes"
	"fmt"
	"html"
	"io"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// hard makes LibreOffice work every formula out when it opens a workbook; else it
// shows the results that stand in the file.
const hard = `<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>`

// Run works workbooks out in a folder of its own and gives them as LibreOffice saves
// them: with its results, to 15 digits.
func Run(dir string, books map[string][]byte) (map[string][]byte, error) {
	profile, out := filepath.Join(dir, "recalc-profile"), filepath.Join(dir, "recalculated")
	if err := os.MkdirAll(filepath.Join(profile, "user"), 0o700); err != nil {
		return nil, err
	}
	if err := os.WriteFile(filepath.Join(profile, "user", "registrymodifications.xcu"), []byte(hard), 0o600); err != nil {
		return nil, err
	}
	args := []string{"-env:UserInstallation=file://" + profile, "--headless", "--norestore", "--convert-to", "xlsx", "--outdir", out}
	for _, name := range slices.Sorted(maps.Keys(books)) {
		path := filepath.Join(dir, name+".xlsx")
		if err := os.WriteFile(path, books[name], 0o600); err != nil {
			return nil, err
		}
		args = append(args, path)
	}
	if said, err := exec.Command("soffice", args...).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w: %s", err, said)
	}
	done := map[string][]byte{}
	for name := range books {
		data, err := os.ReadFile(filepath.Join(out, name+".xlsx"))
		if err != nil {
			return nil, err
		}
		done[name] = data
	}
	return done, nil
}

// Cell is a formula's cell as it stands in a workbook's file.
type Cell struct {
	Ref     string
	Type    string // "" for a number, str for text, e for an error
	Formula string
	Value   string
}

// Sheet holds the cells of a sheet that have a value, by their names, such as C12. A
// text that no formula gives has its number in the list of texts as its value.
type Sheet map[string]Cell

// Read reads the sheets of a workbook.
func Read(data []byte) (map[string]Sheet, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	out := map[string]Sheet{}
	book, err := read(z, "xl/workbook.xml")
	if err != nil {
		return nil, err
	}
	for i, m := range sheetName.FindAllStringSubmatch(string(book), -1) {
		data, err := read(z, fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1))
		if err != nil {
			return nil, err
		}
		out[html.UnescapeString(m[1])] = cells(data)
	}
	return out, nil
}

var sheetName = regexp.MustCompile(`<sheet [^>]*?name="([^"]*)"`)

func read(z *zip.Reader, name string) ([]byte, error) {
	part, err := z.Open(name)
	if err != nil {
		return nil, err
	}
	defer part.Close()
	return io.ReadAll(part)
}

// cells reads the cells of a sheet's part. Large workbooks are read often here, which
// encoding/xml takes ten times as long for.
func cells(part []byte) Sheet {
	out := Sheet{}
	between := func(s, from, to string) string {
		_, s, ok := strings.Cut(s, from)
		if !ok {
			return ""
		}
		s, _, _ = strings.Cut(s, to)
		return s
	}
	for _, s := range strings.Split(string(part), "<c ")[1:] {
		s, _, _ = strings.Cut(s, "</c>")
		head, body, _ := strings.Cut(s, ">")
		c := Cell{Ref: between(head, `r="`, `"`), Type: between(head, `t="`, `"`), Value: html.UnescapeString(between(body, "<v>", "</v>"))}
		if _, f, ok := strings.Cut(body, "<f"); ok {
			c.Formula = html.UnescapeString(between(f, ">", "</f>"))
		}
		if c.Type == "n" {
			c.Type = ""
		}
		out[c.Ref] = c
	}
	return out
}

// Differences compares every result that stands in a workbook with that of the same
// workbook worked out anew, see alike, and counts the formulas.
func Differences(stored, anew []byte) (differences []string, formulas int, err error) {
	ours, err := Read(stored)
	if err != nil {
		return nil, 0, err
	}
	theirs, err := Read(anew)
	if err != nil {
		return nil, 0, err
	}
	for _, sheet := range slices.Sorted(maps.Keys(ours)) {
		for _, ref := range slices.Sorted(maps.Keys(ours[sheet])) {
			c := ours[sheet][ref]
			if c.Formula == "" {
				continue
			}
			formulas++
			if got := theirs[sheet][ref]; !alike(c, got, ours[sheet]) {
				differences = append(differences, fmt.Sprintf("'%s'!%s: stored %q, worked out %q from %s", sheet, ref, c.Value, got.Value, c.Formula))
			}
		}
	}
	return differences, formulas, nil
}

// alike tells whether a result equals what was worked out: text and errors as such,
// numbers to 1e-9. What differs by no more than the rounding of what it was taken of
// is alike too: the difference of two equal readings, or an uncertainty in which
// their common error cancels, is 0 in one program and 1e-14 in another.
func alike(c, got Cell, sheet Sheet) bool {
	if c.Type == "str" || c.Type == "e" {
		return got.Type == c.Type && (c.Type == "e" || got.Value == c.Value)
	}
	x, errX := strconv.ParseFloat(c.Value, 64)
	y, errY := strconv.ParseFloat(got.Value, 64)
	if errX != nil || errY != nil || got.Type != "" {
		return false
	}
	return math.Abs(x-y) <= max(1e-9*math.Abs(x), 1e-12*size(sheet, c.Ref), 1e-15*operands(sheet, c.Formula))
}

var operand = regexp.MustCompile(`[A-Z]+[0-9]+`)

// operands is the largest of the cells of the same sheet that a formula takes.
func operands(sheet Sheet, formula string) float64 {
	out := 0.0
	for _, ref := range operand.FindAllString(formula, -1) {
		if x, err := strconv.ParseFloat(sheet[ref].Value, 64); err == nil {
			out = max(out, math.Abs(x))
		}
	}
	return out
}

// size is that of the value of a row: the larger of what stands where sheets of checks
// and sheets of workings have it.
func size(sheet Sheet, ref string) float64 {
	row, out := strings.TrimLeft(ref, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"), 0.0
	for _, column := range []string{"B", "D"} {
		if x, err := strconv.ParseFloat(sheet[column+row].Value, 64); err == nil {
			out = max(out, math.Abs(x))
		}
	}
	return out
}
