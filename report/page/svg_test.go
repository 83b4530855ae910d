package page

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/calc"
	"handback/report"
)

var nan = math.NaN()

// attrs finds the elements of a class in a picture.
func attrs(t *testing.T, picture, class string) []map[string]string {
	t.Helper()
	var out []map[string]string
	for _, n := range parsed(t, []byte(picture)).all("svg")[0].Kids {
		if n.Attrs["class"] == class {
			out = append(out, n.Attrs)
		}
	}
	return out
}

func number64(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// A value at its limit stands on the limit's line, its uncertainty reaches beyond it,
// and each verdict has a shape of its own.
func TestToleranceBar(t *testing.T) {
	limit := checks.Between(400, 440, "plan")
	draw := func(x, u float64, v checks.Verdict) string {
		return string(toleranceBar(checks.Derived{Value: x, Spread: calc.Spread{U: u}, Unit: "V", Limit: limit, Verdict: v}))
	}
	at, middle, far := draw(440, 5, checks.Inconclusive), draw(420, nan, checks.Pass), draw(900, 0, checks.Fail)
	lines := attrs(t, at, "limit")
	if len(lines) != 2 {
		t.Fatalf("%d limits drawn, want 2", len(lines))
	}
	low, high := number64(t, lines[0]["x1"]), number64(t, lines[1]["x1"])
	if dots := attrs(t, middle, "mark-full"); len(dots) != 1 || number64(t, dots[0]["cx"]) != (low+high)/2 {
		t.Errorf("the passing value is no full dot in the middle: %v", dots)
	}
	if open := attrs(t, at, "mark-open"); len(open) != 1 || !strings.HasPrefix(open[0]["d"], "M"+lines[1]["x1"]+" ") {
		t.Errorf("the doubtful value does not stand on its limit %v: %v", high, open)
	}
	if cross, arrow := attrs(t, far, "mark-cross"), attrs(t, far, "mark-full"); len(cross) != 2 || len(arrow) != 1 {
		t.Errorf("a failing value far out is a cross of two strokes with an arrow: %v, %v", cross, arrow)
	}
	if w := attrs(t, at, "whisker"); len(w) != 3 || !(number64(t, w[2]["x1"]) < high && number64(t, w[2]["x2"]) > high) {
		t.Errorf("a whisker across the limit is wanted: %v", w)
	}
	if got := toleranceBar(checks.Derived{Value: 1, Limit: checks.AtMost(0, "")}); got != "" {
		t.Errorf("a limit without a scale is drawn: %s", got)
	}
}

// L1 of A points up, what leads stands further anticlockwise, and the distance of
// two tips is to scale.
func TestPhasorDiagram_is_to_scale(t *testing.T) {
	d := &checks.Diagram{How: "by hand", Phasors: []checks.Phasor{
		{Side: "A", Name: "L1", Re: 240}, {Side: "A", Name: "L2", Re: -120, Im: -207.846}, {Side: "A", Name: "L3", Re: -120, Im: 207.846},
		{Side: "B", Name: "L1", Im: 240}, {Side: "B", Name: "L2", Re: 207.846, Im: -120}, {Side: "B", Name: "L3", Re: -207.846, Im: -120}}}
	picture := string(phasorDiagram("x", "both", d))
	tip := func(i int) (x, y float64) {
		n := 0
		for _, r := range append(attrs(t, picture, "side-a"), attrs(t, picture, "side-b")...) {
			if r["x1"] == px(starWide/2) && r["y1"] == px(starCentre) {
				if n == i {
					return number64(t, r["x2"]) - starWide/2, starCentre - number64(t, r["y2"])
				}
				n++
			}
		}
		t.Fatalf("%d rays from the centre, want one numbered %d", n, i)
		return 0, 0
	}
	for i, want := range [][2]float64{{0, 90}, {77.94, -45}, {-77.94, -45}, {-90, 0}} {
		if x, y := tip(i); math.Hypot(x-want[0], y-want[1]) > 0.15 {
			t.Errorf("ray %d ends at %v, %v; want %v", i, x, y, want)
		}
	}
	for _, want := range []string{"A: L1 240.0 V at 0.0°, L2 240.0 V at −120.0°", "B: L1 240.0 V at 90.0°", "Angles count anticlockwise"} {
		if !strings.Contains(picture, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	head, rows := diagramRows(sidesOf(d))
	if got := fmt.Sprint(head, rows[0]); got != "[conductor A, volts A, angle B, volts B, angle difference] [L1 240.0 V 0.00° 240.0 V 90.00° 339.41 V]" { // √2·240
		t.Errorf("table: %s", got)
	}
}

func px(x float64) string { return (&svg{}).px(x) }

// What cannot be drawn is left out, never drawn wrong.
func TestPictures_of_what_cannot_be_drawn(t *testing.T) {
	for name, got := range map[string]any{
		"no phasors":            phasorDiagram("x", "t", &checks.Diagram{}),
		"all at the neutral":    phasorDiagram("x", "t", &checks.Diagram{Phasors: []checks.Phasor{{Side: "A", Name: "L1"}}}),
		"a phasor of no number": phasorDiagram("x", "t", &checks.Diagram{Phasors: []checks.Phasor{{Side: "A", Name: "L1", Re: nan}}}),
		"too large a phasor":    phasorDiagram("x", "t", &checks.Diagram{Phasors: []checks.Phasor{{Side: "A", Name: "L1", Re: 1e308, Im: 1e308}, {Side: "B", Name: "L1", Re: -1e308}}}),
		"no readings":           coursePicture("x", "t", &checks.Course{}),
		"times that fall":       coursePicture("x", "t", &checks.Course{Minutes: []float64{0, 5, 4}, Values: []float64{1, 2, 3}}),
		"a curve of no number":  coursePicture("x", "t", &checks.Course{Minutes: []float64{0, 5}, Values: []float64{1, 2}, Curve: func(float64) float64 { return nan }}),
		"a trend of nothing":    trendPicture("x", report.TrendLine{Values: []float64{nan}, Verdicts: []checks.Verdict{0}}, []report.TrendJob{{}}),
	} {
		if fmt.Sprint(got) != "" {
			t.Errorf("%s: %.200v", name, got)
		}
	}
}

func TestCoursePicture(t *testing.T) {
	c := &checks.Course{Name: "temperature", Unit: "°C", Minutes: []float64{0, 60, 120}, Values: []float64{20, 60, 80}, How: checks.Say("by hand"),
		Curve: func(m float64) float64 { return 20 + m/2 }, Lines: []checks.CourseLine{{Value: 100, Text: "limit 100 °C <plan>"}}}
	picture := string(coursePicture("x", "t", c))
	limit := attrs(t, picture, "limit long")
	dots := attrs(t, picture, "side-a full")
	if len(limit) != 1 || len(dots) != 3 || !strings.Contains(picture, "limit 100 °C &lt;plan&gt;") {
		t.Fatalf("limits %v, dots %v", limit, dots)
	}
	// dots at 20 and 60 °C and the limit at 100 °C stand evenly, higher is further up
	a, b, l := number64(t, dots[0]["cy"]), number64(t, dots[1]["cy"]), number64(t, limit[0]["y1"])
	if !(a > b && b > l) || math.Abs((a-b)-(b-l)) > 0.2 {
		t.Errorf("20, 60 and 100 °C stand at %v, %v and %v", a, b, l)
	}
	if _, rows := courseRows(c); fmt.Sprint(rows[2]) != "[120 80.0 °C 80.0 °C 0.00 K]" {
		t.Errorf("rows %v", rows)
	}
}

func TestRoundSteps(t *testing.T) {
	for x, want := range map[float64]float64{1: 1, 1.9: 1, 2: 2, 4.99: 2, 7: 5, 10: 10, 999: 500, 0.03: 0.02} {
		if got := roundDown(x); math.Abs(got-want) > 1e-12 {
			t.Errorf("roundDown(%v) is %v, want %v", x, got, want)
		}
	}
}

// Text and what marks a verdict stand out from their ground by 4.5:1 at least, lines
// by 3:1, in light and dark (WCAG 2.2, 1.4.3 and 1.4.11).
func TestPage_contrast(t *testing.T) {
	data, err := os.ReadFile("../../templates/report/page_style.html")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile(`:root \{([^}]*)\}`).FindAllStringSubmatch(string(data), -1)
	if len(blocks) != 3 {
		t.Fatalf("%d sets of colours, want light, dark and print", len(blocks))
	}
	colours := map[string]float64{}
	for i, name := range []string{"light", "dark", "print"} {
		if name == "print" { // over those of light
			for _, c := range regexp.MustCompile(`--(\w+): #(\w{6});`).FindAllStringSubmatch(blocks[0][1], -1) {
				colours[c[1]] = luminance(t, c[2])
			}
		}
		for _, c := range regexp.MustCompile(`--(\w+): #(\w{6});`).FindAllStringSubmatch(blocks[i][1], -1) {
			colours[c[1]] = luminance(t, c[2])
		}
		for ink, least := range map[string]float64{"ink": 4.5, "soft": 4.5, "pass": 4.5, "doubt": 4.5, "fail": 4.5, "second": 4.5, "rule": 3} {
			for _, ground := range []string{"paper", "panel"} {
				a, okA := colours[ink]
				b, okB := colours[ground]
				if ratio := (math.Max(a, b) + 0.05) / (math.Min(a, b) + 0.05); !okA || !okB || !(ratio >= least) {
					t.Errorf("%s: %s on %s stands out by %.2f:1, want %v:1", name, ink, ground, ratio, least)
				}
			}
		}
	}
}

// luminance is the relative luminance of an sRGB colour (WCAG 2.2, definition).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}
