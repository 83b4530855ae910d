package export

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"slices"
	"strconv"

	"handback/records/archive"
)

// Archive gives every table of an archive as it stands at one moment, to put, one file at
// a time: as CSV with what describes the tables, or as lines of JSON. The same archive
// gives the same bytes.
func Archive(ctx context.Context, a *archive.Archive, lines bool, put func(name string, write func(io.Writer) error) error) error {
	err := a.Snapshot(ctx, func(t *archive.Table, rows iter.Seq2[[]any, error]) error {
		if lines {
			return put(t.Name+".jsonl", func(w io.Writer) error { return writeLines(w, t, rows) })
		}
		return put(t.Name+".csv", func(w io.Writer) error { return writeRows(w, t, rows) })
	})
	if err != nil || lines {
		return err
	}
	meta, err := describe(archiveTables())
	if err != nil {
		return err
	}
	return put(metadataName, func(w io.Writer) error {
		_, err := w.Write(meta)
		return err
	})
}

// archiveTables describes the tables of every archive.
func archiveTables() []described {
	types := map[archive.Sort]string{archive.Words: "string", archive.Whole: "integer", archive.Number: "double", archive.YesNo: "boolean", archive.Instant: "dateTimeStamp", archive.Date: "date"}
	state := archive.Tables[0]
	var out []described
	for _, t := range archive.Tables {
		d := described{name: t.Name, key: t.Key}
		if t != state {
			d.refs = []ref{{state.Key, state.Name, state.Key}}
		}
		for _, c := range t.Columns {
			must := slices.Contains(t.Key, c.Name) || !c.May && (c.Sort == archive.Whole || c.Sort == archive.YesNo)
			d.columns = append(d.columns, describedColumn{c.Name, c.Title, types[c.Sort], must, false})
		}
		out = append(out, d)
	}
	return out
}

func writeRows(w io.Writer, t *archive.Table, rows iter.Seq2[[]any, error]) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	cells := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		cells[i] = c.Name
	}
	if err := out.Write(cells); err != nil {
		return err
	}
	for row, err := range rows {
		if err != nil {
			return err
		}
		for i, v := range row {
			cells[i] = ""
			switch x := v.(type) {
			case nil:
			case float64:
				cells[i] = strconv.FormatFloat(x, 'G', -1, 64)
			default:
				cells[i] = fmt.Sprint(x)
			}
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// writeLines writes each row as an object on a line; what is not there is left out.
func writeLines(w io.Writer, t *archive.Table, rows iter.Seq2[[]any, error]) error {
	out := bufio.NewWriter(w)
	for row, err := range rows {
		if err != nil {
			return err
		}
		between := "{"
		for i, v := range row {
			if v == nil {
				continue
			}
			data, err := json.Marshal(v)
			if err != nil {
				return err
			}
			fmt.Fprintf(out, "%s%q:%s", between, t.Columns[i].Name, data)
			between = ","
		}
		if _, err := out.WriteString("}\n"); err != nil {
			return err
		}
	}
	return out.Flush()
}
