package legend

import (
	"strings"
	"unicode/utf8"

	"handback/report"
	"handback/templates"
)

// width is how many signs a line may have.
const width = 96

// columns lays rows out under one another, two blanks or more apart, so that a program
// can part them again: no text in them has two blanks. The last column is broken into
// lines where it is too long; it begins with no blank, and what follows it does.
func columns(indent int, rows [][]string) string {
	var wide []int
	for _, row := range rows {
		for i, text := range row[:len(row)-1] {
			if i == len(wide) {
				wide = append(wide, 0)
			}
			wide[i] = max(wide[i], utf8.RuneCountInString(report.Flat(text)))
		}
	}
	var out strings.Builder
	for _, row := range rows {
		line := strings.Repeat(" ", indent)
		for i, text := range row[:len(row)-1] {
			text = report.Flat(text)
			line += text + strings.Repeat(" ", wide[i]-utf8.RuneCountInString(text)+2)
		}
		out.WriteString(hung(line, row[len(row)-1]) + "\n")
	}
	return strings.TrimRight(out.String(), "\n")
}

// hung is a text behind what leads its first line, its further lines set in as far.
func hung(lead, text string) string {
	in := utf8.RuneCountInString(lead)
	text = templates.Wrap(max(width-in, width/8), report.Flat(text))
	return strings.TrimRight(lead+strings.ReplaceAll(text, "\n", "\n"+strings.Repeat(" ", in)), " ")
}
