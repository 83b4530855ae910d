package manual

import (
	"strings"
	"unicode/utf8"

	"handback/templates"
)

// Width is how many signs a line of a page may have.
const Width = 80

// Text lays a page out for a terminal or a pipe.
func (p Page) Text() string { return wrapped("", p.Name+": "+p.Title) + "\n" + Text(p.Blocks) }

// Text lays blocks out that have no page of their own.
func Text(blocks []Block) string {
	out := ""
	for i, b := range blocks {
		if i > 0 && !(b.Sort == Point && blocks[i-1].Sort == Point) {
			out += "\n"
		}
		out += b.text()
	}
	return out
}

func (b Block) text() string {
	switch b.Sort {
	case Heading:
		return strings.ToUpper(b.Text) + "\n"
	case Shown:
		out := ""
		for _, line := range b.Lines {
			out += strings.TrimRight("    "+line, " ") + "\n"
		}
		return out
	case Point:
		return b.point()
	}
	return wrapped("", b.Text)
}

// longMark is how long a term may be that its text stands beside.
const longMark = 14

// point sets the text of a point in behind its mark, or below a long one.
func (b Block) point() string {
	n := utf8.RuneCountInString(b.Mark)
	in := longMark + 4
	switch {
	case b.numbered():
		in = 2 + n + 1
	case n > longMark:
		return "  " + b.Mark + "\n" + wrapped(strings.Repeat(" ", 6), b.Text)
	}
	text := strings.TrimLeft(wrapped(strings.Repeat(" ", in), b.Text), " ")
	return "  " + b.Mark + strings.Repeat(" ", in-2-n) + text
}

// plainWords are words typed that could be read as words of the sentence they stand in.
var plainWords = pattern(`^[a-z][a-z_-]*( [a-z-]+)?$`)

// wrapped fills lines. What is typed is not parted where it fits one line, and its
// backquotes go; plain words get quotes, but for a term at the beginning.
func wrapped(in, text string) string {
	const hard = "\u00a0" // a blank that Wrap does not break at
	parts := strings.Split(text, "`")
	for i := 1; i < len(parts); i += 2 {
		term := i == 1 && parts[0] == "" && strings.HasPrefix(parts[2], ":")
		if plainWords().MatchString(parts[i]) && !strings.HasPrefix(parts[i], "handback") && !term {
			parts[i] = `"` + parts[i] + `"`
		}
		if len(in)+utf8.RuneCountInString(parts[i]) <= Width/2 {
			parts[i] = strings.ReplaceAll(parts[i], " ", hard)
		}
	}
	text = templates.Wrap(Width-len(in), strings.Join(parts, ""))
	return in + strings.ReplaceAll(strings.ReplaceAll(text, hard, " "), "\n", "\n"+in) + "\n"
}
