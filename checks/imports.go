package checks

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Import tells how a file of comma-separated values (RFC 4180) holds readings, in
// one of two forms. Long: one value a line, with a column that names the check, one
// that names its field and one that holds the value. Wide: one line of values, the
// columns named after what they hold.
type Import struct {
	ID          string            `plan:"id,need" doc:"short name, given to handback read --import"`
	Separator   string            `plan:"separator" one:"comma|semicolon|tab" doc:"what parts the values; told from the header line when not given"`
	Decimal     string            `plan:"decimal" one:"point|comma" doc:"the decimal sign of every number; without it 1,234 is refused, for it can be read two ways"`
	CheckColumn string            `plan:"check_column" doc:"long form: header of the column with the id of the check"`
	FieldColumn string            `plan:"field_column" doc:"long form: header of the column with the key of the field"`
	ValueColumn string            `plan:"value_column" doc:"long form: header of the column with the value"`
	Columns     map[string]string `plan:"columns" doc:"wide form: header of a column, and the CHECK.FIELD its value belongs to"`
	Fixed       map[string]string `plan:"fixed" doc:"CHECK.FIELD answers that the file does not hold, such as the instrument it comes from; given with the check's other values"`
	Ignore      []string          `plan:"ignore" doc:"headers of columns that are not read"`
}

// IsLong tells whether the file names check and field on every line.
func (m *Import) IsLong() bool { return m.CheckColumn != "" }

// Import finds a way to read files by id, nil when there is none.
func (p *Plan) Import(id string) *Import {
	return find(p.Imports, id, func(m *Import) string { return m.ID })
}

// Target parts CHECK.FIELD of a column.
func (m *Import) Target(column string) (check, field string) { return CutTarget(m.Columns[column]) }

// CutTarget parts CHECK.FIELD.
func CutTarget(target string) (check, field string) {
	check, field, _ = strings.Cut(target, ".")
	return check, field
}

// imports notes what is wrong in how files are to be read.
func (n *notes) imports(p *Plan) {
	seen := map[string]string{}
	for i := range p.Imports {
		m := &p.Imports[i]
		path := fmt.Sprintf("imports[%d]", i+1)
		n.unique(seen, path+".id", "import", m.ID)
		n.importForm(path, m)
		named := map[string]bool{}
		for _, h := range m.Ignore {
			named[h] = true
		}
		for _, h := range []string{m.CheckColumn, m.FieldColumn, m.ValueColumn} {
			if h != "" && named[h] {
				n.at(path, "column %q is named twice: a column has one meaning", h)
			}
			named[h] = true
		}
		targets := map[string]string{}
		for _, h := range slices.Sorted(maps.Keys(m.Columns)) {
			where := join(path+".columns", h)
			if named[h] {
				n.at(where, "column %q is named twice: a column has one meaning", h)
			}
			if first, twice := targets[m.Columns[h]]; twice {
				n.at(where, "%s is what column %q gives already", m.Columns[h], first)
			}
			targets[m.Columns[h]] = h
		}
		for _, target := range slices.Sorted(maps.Keys(m.Fixed)) {
			if h, twice := targets[target]; twice {
				n.at(join(path+".fixed", target), "column %q gives it already", h)
			}
		}
	}
}

// importForm notes a mixture of the two forms, or neither.
func (n *notes) importForm(path string, m *Import) {
	long := 0
	for _, h := range []string{m.CheckColumn, m.FieldColumn, m.ValueColumn} {
		if h != "" {
			long++
		}
	}
	switch {
	case long > 0 && len(m.Columns) > 0:
		n.at(path, "both columns and check_column, field_column, value_column: a file has one of the two forms")
	case long == 0 && len(m.Columns) == 0:
		n.at(path, "give columns, or check_column, field_column and value_column")
	case long > 0 && long < 3:
		n.at(path, "check_column, field_column and value_column are given together")
	}
	if m.Separator == "comma" && m.Decimal == "comma" {
		n.at(path+".decimal", "comma is the separator too: numbers would fall apart unless each is quoted")
	}
}
