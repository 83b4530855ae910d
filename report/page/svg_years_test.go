package page

import (
	"math"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/trend"
)

// resistance is a joint in µΩ that was measured every other year; 40 µΩ is its limit.
func resistance(values ...float64) trend.Trend {
	s := trend.Series{Name: "joint 1", Unit: "µΩ"}
	for i, x := range values {
		s.Values = append(s.Values, trend.Value{At: time.Date(2020+2*i, 5, 1, 9, 0, 0, 0, time.UTC), X: x, Standard: 0.5, U: 1, Low: nan, High: 40, Verdict: checks.Pass, Job: "j", Serial: "MO-12"})
	}
	return trend.Of(s, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
}

// Equal steps of time and value are equal steps in the picture, the limit lies where a value
// of 40 would, the line comes to it where the axis is marked, and each verdict has its shape.
func TestYears(t *testing.T) {
	got := resistance(20, 24, 28, 32)
	got.Values[1].Verdict, got.Values[2].Verdict = checks.Inconclusive, checks.Fail
	file := YearsFile(&got, "T2, joint 1")
	dots, open, cross, limit := attrs(t, file, "mark-full"), attrs(t, file, "mark-open"), attrs(t, file, "mark-cross"), attrs(t, file, "limit long")
	if len(dots) != 2 || len(open) != 1 || len(cross) != 2 || len(limit) != 1 {
		t.Fatalf("%d dots, %d diamonds, %d strokes of crosses, %d limits", len(dots), len(open), len(cross), len(limit))
	}
	y20, y32, y40 := number64(t, dots[0]["cy"]), number64(t, dots[1]["cy"]), number64(t, limit[0]["y1"])
	if is, want := (y32-y40)/(y20-y40), 8.0/20; !(math.Abs(is-want) <= 0.01) {
		t.Errorf("32 µΩ stands at %v of the way from 40 to 20, want %v", is, want)
	}
	// About 2030-05-01, which is ten years from the first: twice as far as the six to the last, less two.
	x20, x26 := number64(t, dots[0]["cx"]), number64(t, dots[1]["cx"])
	reach, span := attrs(t, file, "limit reach"), attrs(t, file, "limit span")
	if len(reach) != 1 || len(span) != 1 {
		t.Fatalf("%d marks of the limit, %d bars", len(reach), len(span))
	}
	if is, want := (number64(t, reach[0]["x1"])-x20)/(x26-x20), 10.0/6; !(math.Abs(is-want) <= 0.01) {
		t.Errorf("the limit is reached at %v of the span of the values, want %v", is, want)
	}
	if from, to := number64(t, span[0]["x1"]), number64(t, span[0]["x2"]); !(from < number64(t, reach[0]["x1"])) || !(to > number64(t, reach[0]["x1"])) {
		t.Errorf("the bar goes from %v to %v", from, to)
	}
	if whiskers := attrs(t, file, "whisker"); len(whiskers) != 4 || !(math.Abs((number64(t, whiskers[0]["y1"])-number64(t, whiskers[0]["y2"]))/(y20-y32)-2.0/12) <= 0.01) {
		t.Errorf("whiskers of ±1 µΩ: %v", whiskers)
	}
	for _, want := range []string{`role="img"`, "<title", "2020-05-01: 20.00 µΩ, pass", "it rises by", "<style>"} {
		if !strings.Contains(file, want) {
			t.Errorf("the picture lacks %s", want)
		}
	}
	none := trend.Of(trend.Series{Values: []trend.Value{{X: nan}}}, time.Time{})
	if is := YearsFile(&none, "nothing"); is != "" {
		t.Errorf("nothing to draw gives %s", is)
	}
	few := resistance(20)
	if is := YearsFile(&few, "one"); len(attrs(t, is, "side-b")) != 0 || len(attrs(t, is, "mark-full")) != 1 {
		t.Errorf("one value: %s", is)
	}
}

// Every class that the picture uses is dressed by its own style.
func TestYears_dressed(t *testing.T) {
	got := resistance(20, 24, 28, 32)
	got.Values[1].Verdict, got.Values[2].Verdict = checks.Inconclusive, checks.Fail
	file := YearsFile(&got, "T2, joint 1")
	for _, n := range parsed(t, []byte(file)).all("svg")[0].Kids {
		for _, class := range strings.Fields(n.Attrs["class"]) {
			if !strings.Contains(yearsStyle, "."+class+" ") && class != "reach" && class != "label" {
				t.Errorf("class %s of %s has no style", class, n.Name)
			}
		}
	}
}
