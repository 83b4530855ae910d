package seal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/report/grid"
	"handback/report/workbook"
)

// Claim is what a handover workbook says about the record it shows.
type Claim struct {
	Job     string `json:"job"`
	Head    string `json:"head"`
	Entries int    `json:"entries"`
}

// ReadClaim reads from a handover workbook from outside what record it shows: from its
// handover data, or from its named cells where a program that saved it left the data
// out. The file is taken for hostile, as by fieldsheet.Read.
//
// Errors: no plain workbook, or none of these; then it is no handover.
func ReadClaim(data []byte) (Claim, error) {
	is, err := openHandover(data)
	if err != nil {
		return Claim{}, err
	}
	return is.claim()
}

// knownForks are the forks that were known when a workbook was made, as its data tell them:
// the record of one side does not show when somebody heard of the other.
func knownForks(data []byte) []fork.Fork {
	var d struct {
		Forks []fork.Fork `json:"forks"`
	}
	is, err := openHandover(data)
	if err != nil {
		return nil
	}
	if carried, ok := is.parts.HandoverData(); !ok || json.Unmarshal(carried, &d) != nil {
		return nil
	}
	return d.Forks
}

// outsideBook is a handover workbook from outside.
type outsideBook struct {
	parts grid.Packed
	*grid.FileBook
}

func openHandover(data []byte) (outsideBook, error) {
	p, err := grid.OpenParts(data)
	if err != nil {
		return outsideBook{}, err
	}
	b, err := grid.ReadBook(p)
	return outsideBook{p, b}, err
}

func (b outsideBook) claim() (Claim, error) {
	var c Claim
	if data, ok := b.parts.HandoverData(); ok {
		if err := json.Unmarshal(data, &c); err != nil {
			return Claim{}, fmt.Errorf("its handover data cannot be read: %w", err)
		}
	} else {
		text := func(family string) string {
			at, rows, err := b.area(grid.Named(family))
			if err != nil {
				return ""
			}
			return b.textOf(at, rows)
		}
		c.Job, c.Head = text("job"), text("head")
		c.Entries, _ = strconv.Atoi(text("entries")) // what is no number is no claim
	}
	if c.Job == "" || c.Head == "" || c.Entries == 0 {
		return Claim{}, errors.New("it is no handover of handback: neither handover data nor named cells tell job, head hash and number of entries")
	}
	return c, nil
}

// area finds the cells that a name leads to: one, or several of one column.
func (b outsideBook) area(name string) (at grid.Cell, rows int, err error) {
	to, ok := b.Names[name]
	if !ok {
		return grid.Cell{}, 0, errors.New("it is gone")
	}
	wrong := fmt.Errorf("it leads to %.80q, which is no cell of this workbook", to)
	cut := strings.LastIndexByte(to, '!')
	if cut < 0 {
		return grid.Cell{}, 0, wrong
	}
	sheet := to[:cut]
	if inner, ok := strings.CutPrefix(sheet, "'"); ok {
		sheet = strings.ReplaceAll(strings.TrimSuffix(inner, "'"), "''", "'")
	}
	from, end, long := strings.Cut(strings.ReplaceAll(to[cut+1:], "$", ""), ":")
	if !long {
		end = from
	}
	at, ok = grid.CellNamed(sheet, from)
	last, okLast := grid.CellNamed(sheet, end)
	if !ok || !okLast || !slices.Contains(b.Sheets, sheet) || last.Col != at.Col || last.Row < at.Row || last.Row > grid.MaxRows {
		return grid.Cell{}, 0, wrong
	}
	return at, last.Row - at.Row + 1, nil
}

// textOf is the text of cells below one another.
func (b outsideBook) textOf(at grid.Cell, rows int) string {
	var out strings.Builder
	for i := range rows {
		out.WriteString(b.Cells[grid.Cell{Sheet: at.Sheet, Row: at.Row + i, Col: at.Col}].Text)
	}
	return out.String()
}

// ExamineWorkbook holds a handover workbook against the job it says it shows: head and
// number of entries, every finding up to there judged again, its handover data, and
// every reading, value and verdict in it. How it is laid out and worded, and what else
// stands in it, is not compared, unless it is byte for byte what was signed or what
// this program makes. The job may have gone on since.
func ExamineWorkbook(data []byte, j *report.Job) Examined {
	x := Examined{}
	x.examineWorkbook(data, j)
	return x.told()
}

func (x *Examined) examineWorkbook(data []byte, j *report.Job) {
	c, err := ReadClaim(data)
	switch {
	case err != nil:
		x.found("%s", grid.Foreign{Err: err}.Error())
		return
	case c.Job != j.ID:
		x.found("it shows job %.80q, not %s", c.Job, j.ID)
		return
	case c.Entries < 1 || c.Entries > len(j.Entries):
		x.found("it shows %d entries, the record has %d", c.Entries, len(j.Entries))
		return
	case j.Entries[c.Entries-1].Hash != c.Head:
		x.found("its head hash is not that of entry %d of the record: %.70q there, %s here", c.Entries, c.Head, j.Entries[c.Entries-1].Hash)
		return
	}
	if n := len(j.Entries) - c.Entries; n > 0 {
		x.Notes = append(x.Notes, fmt.Sprintf("the job has gone on: %s came after it", report.Count(n, "entry", "entries")))
	}
	then, err := j.Upto(c.Entries)
	if err != nil {
		x.found("%v", err)
		return
	}
	x.Job = then
	then.KnownThen(knownForks(data))
	for _, d := range append(slices.Clip(then.Differs), then.RuleFaults()...) {
		x.found("%s", d)
	}
	x.shows("record intact up to the entry it shows; every finding follows from its readings")
	d, err := report.NewDocument(then, then.Head().At)
	if err != nil {
		x.found("%v", err)
		return
	}
	made, err := workbook.Make(d)
	if err != nil {
		x.found("%v", err)
		return
	}
	if bytes.Equal(data, made) {
		x.shows("the workbook is byte for byte what this program makes of the record")
	} else {
		x.workbook(data, d, "")
	}
	x.sameAsSigned(data, j)
}

// workbook holds a workbook against the document it should show, by its handover data
// and its named cells. where names it, with a blank behind.
func (x *Examined) workbook(data []byte, d *report.Document, where string) {
	b, err := workbook.LayOut(d)
	if err != nil {
		x.found("%v", err)
		return
	}
	defer b.Close()
	is, err := openHandover(data)
	if err != nil {
		x.found("%s%s", where, grid.Foreign{Err: err}.Error())
		return
	}
	if carried, ok := is.parts.HandoverData(); ok {
		if faults := dataDifferences(carried, d.Data); len(faults) > 0 {
			for _, f := range faults {
				x.found("%sits handover data are not those of the record: %s", where, f)
			}
		} else {
			x.shows("%sits handover data are those of the record", where)
		}
	} else {
		x.misses("%sits handover data: a program that saved it left them out", where)
	}
	x.namedCells(is, b.Named(), where)
	x.misses("%show it is laid out and worded, formulas, pictures, charts, and cells without a name", where)
}

// namedCells holds the named cells of a workbook against those that were laid out.
func (x *Examined) namedCells(is outsideBook, want []grid.NamedCell, where string) {
	taken, sheets, compared, empty := map[grid.Cell]string{}, []string{}, 0, 0
	for _, n := range want {
		at, rows, err := is.area(n.Name)
		if err != nil {
			x.found("%sthe name %s, made for %s, cannot be compared: %v", where, n.Name, n.At.Place(), err)
			continue
		}
		place := fmt.Sprintf("%s%s (%s)", where, at.Place(), n.Name)
		if first, twice := taken[at]; twice {
			x.found("%s has the name %s too: one of them was moved", place, first)
		}
		taken[at] = n.Name
		if is.Hidden.At(at) {
			x.found("%s is hidden from view: show it again", place)
		}
		if got := is.Cells[at]; n.Works && got.Formula != "" && got.Text == "" {
			empty++
			continue
		}
		if what := differs(n, is, at, rows); what != "" {
			x.found("%s %s", place, what)
			continue
		}
		compared++
		if !slices.Contains(sheets, at.Sheet) {
			sheets = append(sheets, at.Sheet)
		}
	}
	if compared+empty == len(want) {
		x.shows("%sthe %s with readings, values and verdicts on %s are those of the record", where, report.Count(compared, "named cell", "named cells"), strings.Join(sheets, ", "))
	}
	if empty > 0 {
		x.Partly = true
		x.misses("%s%s: the program that saved it left out what the formulas come to. Open it in a spreadsheet, save it and verify it again", where, report.Count(empty, "named cell", "named cells"))
	}
}

// differs says how what a cell from outside holds differs from what was laid out, ""
// when it does not. Numbers agree to 1e-9, as judgements do.
func differs(n grid.NamedCell, is outsideBook, at grid.Cell, rows int) string {
	got := is.Cells[at]
	if got.Formula != "" && !n.Works {
		return fmt.Sprintf("holds the formula %.120q, the record gives %s", got.Formula, cellWords(n.Value))
	}
	same := false
	switch want := n.Value.(type) {
	case float64:
		same = got.Number && checks.SameNumber(got.X, want)
	case string:
		same = want == grid.NoOutcome && !got.Number || spaceless(is.textOf(at, rows)) == spaceless(report.Plain(want))
	}
	if same {
		return ""
	}
	return fmt.Sprintf("holds %.120q, the record gives %s", is.textOf(at, rows), cellWords(n.Value))
}

func cellWords(value any) string {
	if x, ok := value.(float64); ok {
		return grid.Shortest(x)
	}
	return fmt.Sprintf("%.120q", value)
}

// spaceless leaves blanks and line ends out: a text may go on in further cells.
func spaceless(s string) string { return strings.Join(strings.Fields(s), "") }

// sameAsSigned says whose signature covers a workbook as it is, byte for byte.
func (x *Examined) sameAsSigned(data []byte, j *report.Job) {
	hash := chain.HashFile(data)
	for _, s := range j.Signatures {
		if s.Unread == "" && s.Statement.Workbook == hash {
			x.shows("the workbook is byte for byte the one that the signature of entry %d, by %s as %s, covers", s.Seq, s.Statement.Name, s.Statement.Role)
		}
	}
}
