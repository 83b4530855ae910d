package fieldsheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
	"handback/report/grid"
)

// Bounds on a file of readings.
const (
	maxCSV      = 4 << 20
	maxCSVLines = 20_000
)

var separators = []struct {
	name string
	sign rune
}{{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}}

// ReadCSV reads a file of comma-separated values (RFC 4180, UTF-8) as the plan's
// import says, and gives what it would add to the job. Lines may end in CRLF, LF or
// CR; a byte order mark is passed over. The separator is the declared one, or the
// only one that parts the header line into declared columns; no line after it is
// looked at for that. Every line must have as many values as the header; an empty
// value gives nothing. Errors name line and column. The error is a Foreign.
func ReadCSV(data []byte, job *report.Job, m *plan.Import, o ReadingOptions) (*Proposal, []CellError, error) {
	text, err := csvText(data)
	if err != nil {
		return nil, nil, grid.Foreign{Err: err}
	}
	c := &csvFile{job: job, m: m, o: o}
	sign, err := c.separator(text)
	if err != nil {
		return nil, nil, grid.Foreign{Err: err}
	}
	if err := c.read(text, sign); err != nil {
		return nil, nil, grid.Foreign{Err: err}
	}
	if m.IsLong() {
		c.long()
	} else {
		c.wide()
	}
	c.fixed()
	o.After = job.OpenedAt
	p, more := Propose(job, c.filled, o)
	if errs := append(c.errs, more...); len(errs) > 0 {
		return nil, errs, nil
	}
	return p, nil, nil
}

// csvText checks size and encoding, and makes one kind of line end.
func csvText(data []byte) ([]byte, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	switch {
	case len(data) > maxCSV:
		return nil, fmt.Errorf("file of %d bytes: at most %d are read", len(data), maxCSV)
	case !utf8.Valid(data):
		return nil, errors.New("it is not UTF-8: save it so")
	case bytes.IndexByte(data, 0) >= 0:
		return nil, errors.New("it holds NUL characters: it is no text")
	case bytes.IndexByte(data, '\n') < 0:
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, errors.New("it is empty: a header line is wanted, then values")
	}
	return data, nil
}

// csvFile is a file in the reading.
type csvFile struct {
	job    *report.Job
	m      *plan.Import
	o      ReadingOptions
	head   []string
	rows   []csvRow
	filled []Filled
	errs   []CellError
}

type csvRow struct {
	line   int
	values []string
}

func reader(text []byte, sign rune) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma, r.FieldsPerRecord = sign, -1
	return r
}

// known tells whether a column is declared.
func (c *csvFile) known(header string) bool {
	_, wide := c.m.Columns[header]
	return wide || slices.Contains(c.m.Ignore, header) || c.m.IsLong() && slices.Contains([]string{c.m.CheckColumn, c.m.FieldColumn, c.m.ValueColumn}, header)
}

// separator finds the sign that parts the header line into declared columns.
func (c *csvFile) separator(text []byte) (rune, error) {
	var first error
	var fits []string
	sign, most := rune(0), 0
	for _, s := range separators {
		if c.m.Separator != "" && c.m.Separator != s.name {
			continue
		}
		head, err := c.header(text, s.sign)
		if err == nil {
			fits = append(fits, s.name)
			if sign == 0 || len(head) > most {
				sign, most = s.sign, len(head)
			}
			continue
		}
		if first == nil || len(head) > most {
			first, most = err, max(most, len(head))
		}
	}
	if len(fits) == 0 {
		return 0, first
	}
	if len(fits) > 1 && most > 1 {
		return 0, fmt.Errorf("line 1 can be parted by %s: give the separator in import %s of the plan", strings.Join(fits, " or "), c.m.ID)
	}
	return sign, nil
}

// header reads the header line as parted by sign. Its columns must all be declared.
func (c *csvFile) header(text []byte, sign rune) ([]string, error) {
	head, err := reader(text, sign).Read()
	if err != nil {
		return nil, fmt.Errorf("line 1: %w", csvFault(err))
	}
	seen := map[string]bool{}
	for i := range head {
		head[i] = strings.TrimSpace(head[i])
		if seen[head[i]] {
			return head, fmt.Errorf("line 1: column %q stands twice", head[i])
		}
		seen[head[i]] = true
	}
	for _, h := range head {
		if !c.known(h) {
			return head, fmt.Errorf("line 1: column %q is not declared by import %s of the plan: name it there, under ignore when it is not to be read", h, c.m.ID)
		}
	}
	for _, h := range []string{c.m.CheckColumn, c.m.FieldColumn, c.m.ValueColumn} {
		if h != "" && !seen[h] {
			return head, fmt.Errorf("line 1: there is no column %q, which import %s of the plan names", h, c.m.ID)
		}
	}
	return head, nil
}

// csvFault drops what the library says of places: we say it ourselves.
func csvFault(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("column %d: %w", p.Column, p.Err)
	}
	return err
}

// read gathers the lines. A quote out of place spoils all that follows it, so it
// ends the reading.
func (c *csvFile) read(text []byte, sign rune) error {
	var err error
	if c.head, err = c.header(text, sign); err != nil {
		return err
	}
	r := reader(text, sign)
	for n := 0; ; n++ {
		values, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var p *csv.ParseError
		if errors.As(err, &p) {
			return fmt.Errorf("line %d: %w", p.Line, csvFault(err))
		}
		if err != nil {
			return err
		}
		if n == 0 {
			continue
		}
		line, _ := r.FieldPos(0)
		if n > maxCSVLines {
			return fmt.Errorf("line %d: at most %d lines are read", line, maxCSVLines)
		}
		if len(values) != len(c.head) {
			c.errs = append(c.errs, CellError{Place: fmt.Sprintf("line %d", line), Cause: fmt.Sprintf("%s, the header has %d", report.Count(len(values), "value", "values"), len(c.head))})
			continue
		}
		c.rows = append(c.rows, csvRow{line, values})
	}
}

func (c *csvFile) place(row csvRow, column string) string {
	return fmt.Sprintf("line %d, column %s", row.line, column)
}

// long takes one value a line.
func (c *csvFile) long() {
	at := func(h string) int { return slices.Index(c.head, h) }
	check, field, value := at(c.m.CheckColumn), at(c.m.FieldColumn), at(c.m.ValueColumn)
	for _, row := range c.rows {
		get := func(i int) string { return strings.TrimSpace(row.values[i]) }
		switch {
		case get(value) == "":
		case get(check) == "" || get(field) == "":
			c.errs = append(c.errs, CellError{c.place(row, c.m.ValueColumn), get(value), "it stands beside no check or no field"})
		default:
			c.take(row, c.m.ValueColumn, get(check), get(field), get(value))
		}
	}
}

// wide takes the one line of values.
func (c *csvFile) wide() {
	for i, row := range c.rows {
		if i > 0 {
			c.errs = append(c.errs, CellError{Place: fmt.Sprintf("line %d", row.line), Cause: fmt.Sprintf("a second line of values: import %s reads one; which of them counts is not guessed", c.m.ID)})
			return
		}
		for j, h := range c.head {
			if check, field := c.m.Target(h); check != "" && strings.TrimSpace(row.values[j]) != "" {
				c.take(row, h, check, field, strings.TrimSpace(row.values[j]))
			}
		}
	}
}

// fixed adds the answers that the plan gives for the file, for checks it gives some of.
func (c *csvFile) fixed() {
	given := map[string]bool{}
	for _, f := range c.filled {
		given[f.Check] = true
	}
	for _, target := range slices.Sorted(maps.Keys(c.m.Fixed)) {
		if check, field := plan.CutTarget(target); given[check] {
			c.filled = append(c.filled, Filled{Place: "fixed by import " + c.m.ID, Check: check, Key: field, Typed: c.m.Fixed[target]})
		}
	}
}

// take puts a value among those filled in, its decimal sign read as declared.
func (c *csvFile) take(row csvRow, column, check, field, value string) {
	f := Filled{Place: c.place(row, column), Check: check, Key: field, Typed: value}
	if strings.HasPrefix(field, "+") {
		c.errs = append(c.errs, CellError{f.Place, field, "not the key of a field"})
		return
	}
	_, absent := checks.CutAbsent(value)
	if c.m.Decimal != "" && absent == "" && c.measures(check, field) {
		wrong := map[string]string{"point": ",", "comma": "."}[c.m.Decimal]
		if strings.Contains(strings.TrimRight(value, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZΩµ·. "), wrong) {
			c.errs = append(c.errs, CellError{f.Place, value, fmt.Sprintf("import %s declares the decimal %s: a number without %q is wanted", c.m.ID, c.m.Decimal, wrong)})
			return
		}
		if c.m.Decimal == "comma" {
			f.Means = strings.Replace(value, ",", ".", 1)
		}
	}
	c.filled = append(c.filled, f)
}

// measures tells whether a field takes a number with a unit.
func (c *csvFile) measures(check, field string) bool {
	s := c.job.State(check)
	if s == nil {
		return false
	}
	f, ok := checks.FieldNamed(c.job.Input(s.Check, c.o.Now).Form(), field)
	return ok && f.Sort == checks.Measured
}
