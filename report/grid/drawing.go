package grid

import (
	"fmt"
	"math"

	"github.com/xuri/excelize/v2"

	"handback/records/chain"
	"handback/report"
	"handback/report/photo"
)

// PlacedChart is a chart over the rows from its cell on.
type PlacedChart struct {
	At    Cell
	Chart *excelize.Chart
}

// The library takes every row to be 20 pixels high when it places a chart, as ours
// nearly are. LibreOffice draws charts a little higher than that, so less is asked for.
const plainRow = 18.5 // pixels

// RowsHigh is how high n plain rows are, in pixels.
func RowsHigh(n int) uint { return uint(plainRow * float64(n)) }

// Room for one picture on its sheet: so many plain rows, so many pixels wide.
const (
	PictureRows = 22
	pictureWide = 640.0
)

// PlacedPicture is a picture over the rows from its cell on.
type PlacedPicture struct {
	At      Cell
	Caption string
	Picture *photo.Picture
	Pixels  int // how wide it is shown, 0 for as its room has it
}

// drawCharts puts the charts into the workbook.
func (s *Sheet) drawCharts() error {
	for _, c := range s.Charts {
		if err := s.book.File.AddChart(s.Name, c.At.Name(), c.Chart); err != nil {
			return fmt.Errorf("chart at %s: %w", c.At.Name(), err)
		}
	}
	return nil
}

// draw puts the pictures into the workbook, made smaller to fit, never larger.
func (s *Sheet) draw() error {
	for _, p := range s.Pictures {
		scale := math.Min(1, math.Min(pictureWide/float64(p.Picture.Width), float64(RowsHigh(PictureRows-1))/float64(p.Picture.Height)))
		if p.Pixels > 0 {
			scale = float64(p.Pixels) / float64(p.Picture.Width)
		}
		ext := map[string]string{chain.TypeJPEG: ".jpg", chain.TypePNG: ".png"}[p.Picture.Type]
		err := s.book.File.AddPictureFromBytes(s.Name, p.At.Name(), &excelize.Picture{Extension: ext, File: p.Picture.Content,
			Format: &excelize.GraphicOptions{AltText: report.Plain(p.Caption), ScaleX: scale, ScaleY: scale, Positioning: "oneCell"}})
		if err != nil {
			return fmt.Errorf("picture at %s: %w", p.At.Name(), err)
		}
	}
	return nil
}
