package report

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"handback/checks"
)

var nan = math.NaN()

// Expected shares worked by hand from the definition.
func TestShareOf(t *testing.T) {
	for _, c := range []struct {
		x, u, low, high float64
		at, from, to    float64
		ok              bool
	}{
		{430, 5, 400, 440, 0.5, 0.25, 0.75, true},
		{400, 0, 400, 440, -1, -1, -1, true},
		{450, nan, 400, 440, 1.5, nan, nan, true},
		{25, 5, nan, 50, 0.5, 0.4, 0.6, true},
		{60, 5, nan, 50, 1.2, 1.1, 1.3, true},
		{-10, 0, nan, 50, -0.2, -0.2, -0.2, true},
		{200, 100, 100, nan, -0.5, -1, -1.0 / 3, true}, // 100 MΩ wanted, 200 read: half of the tolerance used
		{100, 0, 100, nan, -1, -1, -1, true},
		{0, 0, 100, nan, 0, 0, 0, false},
		{5, 0, nan, 0, 0, 0, 0, false},
		{5, 0, nan, nan, 0, 0, 0, false},
		{2, 0, 2, 2, 0, 0, 0, false},
		{nan, 0, 400, 440, 0, 0, 0, false},
		{math.Inf(1), 0, nan, 50, 0, 0, 0, false},
	} {
		s := shareOf(checks.Derived{Value: c.x, Spread: checks.Spread{U: c.u}, Limit: &checks.Limit{Low: c.low, High: c.high}})
		if s.OK != c.ok || c.ok && !(same(s.At, c.at) && same(s.From, c.from) && same(s.To, c.to)) {
			t.Errorf("%v ± %v in %v to %v: %+v, want %v from %v to %v, %v", c.x, c.u, c.low, c.high, s, c.at, c.from, c.to, c.ok)
		}
	}
	if s := shareOf(checks.Derived{Value: 2000, Bound: ">", Limit: checks.AtLeast(1000, "plan")}); s.OK || s.words() != "a bound" {
		t.Errorf("a value known to be above 2000 stands nowhere: %+v", s)
	}
	if s := shareOf(checks.Derived{Value: 3}); s.OK || s.words() != "no scale" {
		t.Errorf("without a limit: %+v", s)
	}
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-12
}

// Where a value lies within its limits its share is within ±1, and beyond them beyond.
func TestShareOf_agrees_with_the_limits(t *testing.T) {
	seen := 0
	for _, l := range []checks.Limit{{Low: 400, High: 440}, {Low: -1, High: 1}, {Low: nan, High: 50}, {Low: 100, High: nan}} {
		for x := -60.0; x <= 500; x += 0.7 {
			s := shareOf(checks.Derived{Value: x, Limit: &l})
			if !s.OK {
				continue
			}
			within := !(x < l.Low) && !(x > l.High)
			share := s.At <= 1 && s.At >= -1
			if !s.Low { // without a low limit nothing is too low
				share = s.At <= 1
			}
			if seen++; within != share {
				t.Errorf("%v in %+v: share %v", x, l, s.At)
			}
		}
	}
	if seen < 1000 {
		t.Errorf("%d values compared", seen)
	}
}

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
func TestToleranceBars(t *testing.T) {
	limit := checks.Between(400, 440, "plan")
	values := []checks.Derived{
		{Name: "at the limit", Value: 440, Spread: checks.Spread{U: 5}, Unit: "V", Limit: limit, Verdict: checks.Inconclusive},
		{Name: "in the middle", Value: 420, Spread: checks.Spread{U: nan}, Unit: "V", Limit: limit, Verdict: checks.Pass},
		{Name: "far out", Value: 900, Unit: "V", Limit: limit, Verdict: checks.Fail},
	}
	picture := string(toleranceBars("x", "bars", values))
	lines := attrs(t, picture, "limit")
	if len(lines) != 6 {
		t.Fatalf("%d limits drawn, want 6", len(lines))
	}
	low, high := number64(t, lines[0]["x1"]), number64(t, lines[1]["x1"])
	if dots := attrs(t, picture, "mark-full"); len(dots) != 2 || number64(t, dots[0]["cx"]) != (low+high)/2 {
		t.Errorf("the passing value is not the only full dot in the middle (the other is the arrow): %v", dots)
	}
	open := attrs(t, picture, "mark-open")
	if len(open) != 1 || !strings.HasPrefix(open[0]["d"], "M"+lines[1]["x1"]+" ") {
		t.Errorf("the doubtful value does not stand on its limit %v: %v", high, open)
	}
	if cross := attrs(t, picture, "mark-cross"); len(cross) != 2 {
		t.Errorf("a failing value is a cross of two strokes: %v", cross)
	}
	whiskers := attrs(t, picture, "whisker")
	if len(whiskers) != 3 || !(number64(t, whiskers[2]["x1"]) < high && number64(t, whiskers[2]["x2"]) > high) {
		t.Errorf("one whisker, across the limit, is wanted: %v", whiskers)
	}
	for _, want := range []string{"3 judged values, 1 within the limits.", "far out, at beyond ±1000 % of its tolerance"} {
		if !strings.Contains(picture, want) {
			t.Errorf("the picture does not say %q", want)
		}
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
	for i, want := range [][2]float64{{0, 125}, {108.25, -62.5}, {-108.25, -62.5}, {-125, 0}} {
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
		"a trend of nothing":    trendPicture("x", TrendLine{Values: []float64{nan}, Verdicts: []checks.Verdict{0}}, []TrendJob{{}}),
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

func TestAxisStep(t *testing.T) {
	for _, span := range []float64{0.7, 1, 3, 8, 99, 180, 1440, 1e5} {
		step := axisStep(span, 8)
		if n := span / step; !(n <= 8*(1+1e-9) && n > 2.5) {
			t.Errorf("a span of %v has %v steps of %v", span, n, step)
		}
	}
}

// Text and what marks a verdict stand out from their ground by 4.5:1 at least, lines
// by 3:1, in light and dark (WCAG 2.2, 1.4.3 and 1.4.11).
func TestPage_contrast(t *testing.T) {
	data, err := os.ReadFile("../templates/report/page_style.html")
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
