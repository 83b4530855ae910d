package certificate

import (
	"fmt"

	"rsc.io/qr"

	"handback/records/chain"
	"handback/report"
	"handback/report/photo"
)

// CodeText is what the square code of a certificate holds: enough to hold a sheet of
// paper against the record.
func CodeText(d *report.Document) string {
	return fmt.Sprintf("job %s\nentries %d\nhead %s\ndata %s", d.Job, d.Entries, d.Head, d.Digest)
}

// Code draws it (ISO/IEC 18004), so that about a seventh of it may be lost to dirt and
// folds (level M).
func Code(d *report.Document) (*photo.Picture, error) {
	c, err := qr.Encode(CodeText(d), qr.M)
	if err != nil {
		return nil, fmt.Errorf("square code of job %s: %w", d.Job, err)
	}
	side := (c.Size + 8) * c.Scale // with the rim that readers need
	return &photo.Picture{Type: chain.TypePNG, Content: c.PNG(), Width: side, Height: side}, nil
}
