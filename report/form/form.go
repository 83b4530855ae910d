// Package form is the owner's own form for a handover: a logo, a heading and a form
// number on every page, and the fixed labels in another language. It knows no job.
//
// A label is a word or phrase that the program puts beside what a record says: the
// heading of a column, the name of a list. Labels is a list of them in another language,
// by the English ones; what the record says, verdicts and sentences are never among them.
package form

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"regexp"
	"sync"

	"handback/report/photo"
)

// Form is what an owner's handover looks like; the zero Form is the program's own.
type Form struct {
	Logo    *photo.Picture // a PNG, nil for none
	Heading string         // at the head of every page, "" for none
	Number  string         // of the form, likewise
	Labels  *Labels        // nil for English
}

// What a logo may be at most (our choice): it stands in every handover.
const (
	MaxLogo       = 512 << 10
	maxLogoPixels = 2000 // wide and high
)

var svg = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?is)^\s*(<\?xml.*?\?>\s*)?(<!--.*?-->\s*)*(<!DOCTYPE\s+svg[^>]*>\s*)?<svg[\s>]`)
})

// ReadLogo takes a PNG for a logo, without what its pixels do not need.
func ReadLogo(content []byte) (*photo.Picture, error) {
	switch {
	case len(content) > MaxLogo:
		return nil, fmt.Errorf("a logo of %d bytes: at most %d KiB are taken", len(content), MaxLogo>>10)
	case svg().Match(content):
		return nil, errors.New("it is an SVG drawing, which may hold programs and call for other files: save it as PNG")
	case !bytes.HasPrefix(content, []byte("\x89PNG")):
		return nil, errors.New("it is no PNG picture: a logo is a PNG")
	}
	p, err := photo.Bare(content)
	if err != nil {
		return nil, err
	}
	if p.Width > maxLogoPixels || p.Height > maxLogoPixels {
		return nil, fmt.Errorf("a logo of %d by %d pixels: at most %d by %d are taken", p.Width, p.Height, maxLogoPixels, maxLogoPixels)
	}
	if _, err := png.Decode(bytes.NewReader(p.Content)); err != nil {
		return nil, fmt.Errorf("it cannot be drawn: %w", err)
	}
	return &p, nil
}
