package grid

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/report"
)

// Place is the cell as a person looks for it.
func (c Cell) Place() string { return report.Flat(c.Sheet) + "!" + c.Name() }

// CompareCells orders cells by sheet, row and column.
func CompareCells(a, b Cell) int {
	return cmp.Or(strings.Compare(a.Sheet, b.Sheet), a.Row-b.Row, a.Col-b.Col)
}

// AbsoluteName is the address that stays when a formula is copied, behind its first $.
func AbsoluteName(c Cell) string {
	name, err := excelize.ColumnNumberToName(c.Col)
	if err != nil {
		panic(fmt.Sprintf("report: column %d: %v", c.Col, err))
	}
	return name + "$" + strconv.Itoa(c.Row)
}

// Cell is a place in the workbook.
type Cell struct {
	Sheet    string
	Row, Col int // from 1
}

// In moves to another column of the same row.
func (c Cell) In(col int) Cell { return Cell{c.Sheet, c.Row, col} }

// Up moves rows up and back down the same column.
func (c Cell) Up(rows int) Cell { return Cell{c.Sheet, c.Row - rows, c.Col} }

// Name is the cell's address on its sheet, such as C12.
func (c Cell) Name() string {
	name, err := excelize.CoordinatesToCellName(c.Col, c.Row)
	if err != nil {
		panic(fmt.Sprintf("report: cell %d, %d: %v", c.Col, c.Row, err))
	}
	return name
}

// Ref is the cell as a formula on any sheet names it, such as 'Live checks'!C12.
func (c Cell) Ref() string {
	return "'" + strings.ReplaceAll(c.Sheet, "'", "''") + "'!" + c.Name()
}
