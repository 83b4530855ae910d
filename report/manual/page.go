// Package manual lays out what the program says of itself: its help topics, and a page
// for every command. A page is a list of blocks, laid out as plain text for a terminal
// and as roff for man, so that both say the same.
//
// A topic is written in the part of Markdown that this package reads, and in nothing
// else: "# NAME: TITLE" on its first line, "## " before a heading, paragraphs, points
// that begin with "- " or a number, blocks between fences, words in backquotes. A comment
// in a line of its own is for the tests that follow a topic, and is not shown.
package manual

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
)

// Sections of a manual, as man numbers them.
const (
	Commands = 1
	Topics   = 7
)

// Page is one page of the manual.
type Page struct {
	Name    string // "plan", or "plan check"
	Section int
	Title   string // what it is about, half a line
	Blocks  []Block
}

// Sort is what a block is.
type Sort int

// The sorts of blocks.
const (
	Heading Sort = iota + 1
	Paragraph
	Point // a paragraph behind Mark: "-", a number, or a term of any length
	Shown // lines as they stand
)

// Block is one piece of a page. Words of Text that are typed stand in backquotes.
type Block struct {
	Sort  Sort
	Mark  string
	Text  string
	Lines []string
}

// numbered tells whether a point is one of a list, and no term.
func (b Block) numbered() bool { return listMark().MatchString(b.Mark) }

var (
	listMark  = pattern(`^(-|[0-9]+\.)$`)
	titleLine = pattern(`^# ([a-z]+): (.+)$`)
	pointLine = pattern(`^(-|[0-9]+\.) +(.+)$`)
	link      = pattern(`\[([^\]]+)\]\(([^)]+)\)`)
)

// pattern is compiled when it is first wanted.
func pattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}

// Topic reads a topic.
func Topic(markdown string) (Page, error) {
	first, rest, _ := strings.Cut(markdown, "\n")
	m := titleLine().FindStringSubmatch(first)
	if m == nil {
		return Page{}, fmt.Errorf("line 1: %q is no title", first)
	}
	r := reader{Page: Page{Name: m[1], Section: Topics, Title: m[2]}}
	for i, line := range strings.Split(strings.TrimRight(rest, "\n"), "\n") {
		if err := r.take(line); err != nil {
			return Page{}, fmt.Errorf("topic %s, line %d: %w", m[1], i+2, err)
		}
	}
	if r.shown {
		return Page{}, fmt.Errorf("topic %s: the last block is not closed", m[1])
	}
	return r.Page, nil
}

// reader takes up a topic line by line.
type reader struct {
	Page
	shown bool // inside fences
	open  bool // the last block goes on in the next line
}

func (r *reader) take(line string) error {
	fence := strings.HasPrefix(line, "```")
	switch point := pointLine().FindStringSubmatch(line); {
	case fence:
		if r.shown = !r.shown; r.shown {
			r.add(Block{Sort: Shown}, false)
		}
	case r.shown:
		last := &r.Blocks[len(r.Blocks)-1]
		last.Lines = append(last.Lines, line)
	case line == "", strings.HasPrefix(line, "<!-- "):
		r.open = false
	case strings.HasPrefix(line, "## "):
		r.add(Block{Sort: Heading, Text: strings.ReplaceAll(line[3:], "`", "")}, false)
	case strings.HasPrefix(line, "#"), strings.HasPrefix(line, "|"), strings.HasPrefix(line, ">"):
		return fmt.Errorf("%.20q… is not understood", line)
	case strings.Count(line, "`")%2 != 0:
		return fmt.Errorf("%.20q… opens a backquote and closes none in its line", line)
	case point != nil:
		r.add(Block{Sort: Point, Mark: point[1], Text: plain(point[2])}, true)
	case r.open:
		r.Blocks[len(r.Blocks)-1].Text += " " + plain(strings.TrimSpace(line))
	case strings.HasPrefix(line, " "):
		return fmt.Errorf("%.20q… is set in, and belongs to no point", line)
	default:
		r.add(Block{Sort: Paragraph, Text: plain(line)}, true)
	}
	return nil
}

func (r *reader) add(b Block, open bool) { r.Blocks, r.open = append(r.Blocks, b), open }

// plain spells links out.
func plain(s string) string { return link().ReplaceAllString(s, "$1 ($2)") }
