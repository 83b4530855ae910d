package checks

// Diagram is the volts of conductors as the readings place them in one plane: what a
// handover draws. It decides nothing.
type Diagram struct {
	How     string // how it was drawn and what it cannot show
	Phasors []Phasor
}

// Phasor is one conductor of one side, from the diagram's common origin. V, finite.
type Phasor struct {
	Side, Name string
	Re, Im     float64
}

// Course is a reading over time, with the curve through it where one counts.
type Course struct {
	Name, Unit string
	Minutes    []float64 // of the readings after the first, rising
	Values     []float64 // as many, in Unit
	How        Said      // what the curve is, or why there is none
	Curve      func(minutes float64) float64
	Lines      []CourseLine
}

// CourseLine is a limit across a course, in its unit.
type CourseLine struct {
	Value float64
	Text  string
}

// Draw adds the three conductors of a side to the finding's diagram.
func (w *Work) Draw(how, side string, points [3]complex128) {
	if w.found.Diagram == nil {
		w.found.Diagram = &Diagram{How: how}
	}
	names, _ := w.Plan.Conductors()
	for i, p := range points {
		w.found.Diagram.Phasors = append(w.found.Diagram.Phasors, Phasor{side, names[i], real(p), imag(p)})
	}
}
