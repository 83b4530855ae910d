package manual

import (
	"fmt"
	"strings"
)

// Roff lays a page out for man. From is what the page comes from, such as "handback
// 1.2.3", also those that are told of beside.
func (p Page) Roff(from string, also ...Page) string {
	var b strings.Builder
	name := p.File()
	fmt.Fprintf(&b, ".TH %s %d \"\" %s\n.nh\n.ad l\n.SH NAME\n%s \\- %s\n", quoted(strings.ToUpper(name)), p.Section, quoted(from), roff(name), roff(p.Title))
	if len(p.Blocks) > 0 && p.Blocks[0].Sort != Heading {
		b.WriteString(".SH DESCRIPTION\n")
	}
	last := Heading
	for _, block := range p.Blocks {
		b.WriteString(block.roff(last))
		last = block.Sort
	}
	if len(also) > 0 {
		b.WriteString(".SH SEE ALSO\n")
	}
	for i, other := range also {
		end := ","
		if i == len(also)-1 {
			end = ""
		}
		fmt.Fprintf(&b, ".BR %s (%d)%s\n", roff(other.File()), other.Section, end)
	}
	return b.String()
}

// File is what a page is called in a folder of pages, without its section.
func (p Page) File() string {
	if p.Name == "" || p.Name == "handback" {
		return "handback"
	}
	return "handback-" + strings.ReplaceAll(strings.TrimPrefix(p.Name, "handback "), " ", "-")
}

// roff writes one block behind another.
func (b Block) roff(behind Sort) string {
	apart := ".PP\n"
	if behind == Heading {
		apart = "" // a heading parts already
	}
	switch b.Sort {
	case Heading:
		return ".SH " + quoted(strings.ToUpper(b.Text)) + "\n"
	case Shown:
		out := apart + ".RS 4\n.nf\n"
		for _, line := range b.Lines {
			out += roff(line) + "\n"
		}
		return out + ".fi\n.RE\n"
	case Point:
		out := ""
		if behind == Point {
			out = ".PD 0\n"
		}
		switch {
		case b.Mark == "-":
			out += ".IP \\(bu 4\n"
		case b.numbered():
			out += ".IP " + b.Mark + " 4\n"
		default:
			out += ".TP 8\n\\fB" + roff(b.Mark) + "\\fR\n"
		}
		return out + typed(b.Text) + "\n.PD\n"
	}
	return apart + typed(b.Text) + "\n"
}

// typed sets words between backquotes in bold.
func typed(text string) string {
	out := ""
	for i, part := range strings.Split(text, "`") {
		part = mayBreak().ReplaceAllString(escaped(part), `$1\:$2`)
		if i%2 == 1 {
			part = `\fB` + part + `\fR`
		}
		out += part
	}
	return guarded(out)
}

// mayBreak is where a long word may go on in the next line.
var mayBreak = pattern(`([,/=])([^\s,/=\\])`)

// roff is one line of text as it stands.
func roff(line string) string { return guarded(escaped(line)) }

// quoted is one argument of a macro.
func quoted(s string) string { return `"` + strings.ReplaceAll(escaped(s), `"`, `\(dq`) + `"` }

// escaped keeps signs from meaning something to roff: what is typed is copied from pages,
// so a hyphen is the one of the keyboard.
func escaped(s string) string {
	return strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`).Replace(s)
}

// guarded keeps a line from being taken for a request.
func guarded(line string) string {
	if strings.HasPrefix(line, ".") || strings.HasPrefix(line, `\(aq`) {
		return `\&` + line
	}
	return line
}
