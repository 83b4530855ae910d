package trend

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"reflect"
	"strings"
	"testing"

	"handback/testdata/outside"
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }

var nan = math.NaN()

// near tells whether a number is another to a share of it.
func near(is, want, share float64) bool { return math.Abs(is-want) <= share*math.Abs(want) }

// nothing are uncertainties that are not known, of instruments that are not.
func nothing(n int) (u []float64, serials []string) {
	for range n {
		u = append(u, nan)
	}
	return u, make([]string, n)
}

// norris are the data and certified values of NIST's Statistical Reference Datasets, linear
// regression, Norris (lower level of difficulty, observed): y, then x.
var norris = [][2]float64{{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3},
	{449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2},
	{998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}}

func TestFitLine_Norris(t *testing.T) {
	var x, y []float64
	for _, p := range norris {
		y, x = append(y, p[0]), append(x, p[1])
	}
	u, serials := nothing(len(x))
	l := fitLine(x, y, u, serials)
	k := studentFactor(len(x) - 2)
	for _, c := range []struct {
		what      string
		is, wants float64
	}{
		{"B0", l.value(0), -0.262323073774029},
		{"B1", l.slope, 1.00211681802045},
		{"standard deviation of B0", l.off(0) / k, 0.232818234301152},
		{"standard deviation of B1", l.slopeOff() / k, 0.429796848199937e-3},
		{"residual standard deviation", math.Sqrt(l.chi2 / 34), 0.884796396144373},
	} {
		if !near(c.is, c.wants, 1e-10) {
			t.Errorf("%s: %v, certified %v", c.what, c.is, c.wants)
		}
	}
}

// The calibration of a thermometer by least squares, worked in JCGM 100:2008, H.3: table
// H.6 and what follows from it, as printed there.
func TestFitLine_thermometer(t *testing.T) {
	at := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	u, serials := nothing(len(at))
	l := fitLine(at, b, u, serials)
	k := studentFactor(len(at) - 2)
	for _, c := range []struct {
		what            string
		is, wants, half float64
	}{
		{"y1", l.value(20), -0.1712, 5e-5},
		{"s(y1)", l.off(20) / k, 0.0029, 5e-5},
		{"y2", l.slope, 0.00218, 5e-6},
		{"s(y2)", l.slopeOff() / k, 0.00067, 5e-6},
		{"s", math.Sqrt(l.chi2 / 9), 0.0035, 5e-5},
		{"b(30)", l.value(30), -0.1494, 5e-5},
		{"u(b(30))", l.off(30) / k, 0.0041, 5e-5},
	} {
		if !(math.Abs(c.is-c.wants) <= c.half) {
			t.Errorf("%s: %v, printed %v", c.what, c.is, c.wants)
		}
	}
}

// JCGM 100:2008, table G.2, column 95.45 %.
func TestStudentFactor(t *testing.T) {
	for freedom, wants := range map[int]float64{1: 13.97, 2: 4.53, 3: 3.31, 4: 2.87, 5: 2.65, 6: 2.52, 7: 2.43, 8: 2.37, 9: 2.32, 10: 2.28, 15: 2.18, 20: 2.13, 30: 2.09, 50: 2.05} {
		if is := studentFactor(freedom); !(math.Abs(is-wants) <= 0.005) {
			t.Errorf("%d degrees of freedom: %v, table %v", freedom, is, wants)
		}
	}
}

const (
	referenceFile   = "../../testdata/reference/trend.json"
	referenceScript = "../../testdata/reference/trend.py"
)

type reference struct {
	Cases   []referenceCase
	Student []float64
	Chi     [][3]float64
}

type referenceCase struct {
	Name, Who                       string
	T, Y, U                         []float64
	Limit, Slope, First, Chi2, When float64
	SlopeU                          float64 `json:"slope_u"`
	MiddleU                         float64 `json:"middle_u"`
	LaterU                          float64 `json:"later_u"`
	Chance, From, To                *float64
	Bow                             float64
	BowLevel                        *float64 `json:"bow_level"`
}

func readReference(t *testing.T, data []byte) (r reference) {
	t.Helper()
	if err := json.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Cases) < 7 || len(r.Student) == 0 || len(r.Chi) == 0 {
		t.Fatalf("%d cases, %d factors, %d chances", len(r.Cases), len(r.Student), len(r.Chi))
	}
	return r
}

func (c referenceCase) fit() (line, []float64) {
	u, serials := c.U, strings.Split(c.Who, "")
	if u == nil {
		u, _ = nothing(len(c.T))
	}
	return fitLine(c.T, c.Y, u, serials), u
}

// Lines, their errors and where they meet a limit are those of numpy and scipy.
func TestFitLine_scipy(t *testing.T) {
	data, err := os.ReadFile(referenceFile)
	if err != nil {
		t.Fatal(err)
	}
	r := readReference(t, data)
	for _, c := range r.Cases {
		l, u := c.fit()
		mean := 0.0
		for _, x := range c.T {
			mean += x / float64(len(c.T))
		}
		same := map[string][2]float64{"slope": {l.slope, c.Slope}, "at 0": {l.value(0), c.First}, "chi2": {l.chi2, c.Chi2}, "U of the slope": {l.slopeOff(), c.SlopeU},
			"U in the middle": {l.off(mean), c.MiddleU}, "U five years on": {l.off(c.T[len(c.T)-1] + 5), c.LaterU}}
		if c.Chance != nil {
			same["chance"] = [2]float64{chiAbove(l.chi2, len(c.T)-2), *c.Chance}
		}
		when, from, to, ok := l.meets(c.Limit)
		same["meets"] = [2]float64{when, c.When}
		if ok != (c.From != nil) {
			t.Errorf("%s: bounded %v, scipy %v", c.Name, ok, c.From != nil)
		} else if ok {
			same["from"], same["to"] = [2]float64{from, *c.From}, [2]float64{to, *c.To}
		}
		for what, x := range same {
			if !near(x[0], x[1], 1e-8) {
				t.Errorf("%s, %s: %v, scipy %v", c.Name, what, x[0], x[1])
			}
		}
		unstated := c.U == nil || c.Bow > 4 // what errors of 2u do not bend
		if bent := c.BowLevel != nil && *c.BowLevel < 1-confidence && unstated; l.bends(c.T, c.Y, u) != bent {
			t.Errorf("%s: bends %v, by the F test of scipy %v", c.Name, !bent, bent)
		}
	}
	for i, wants := range r.Student {
		if !near(studentFactor(i+1), wants, 1e-8) {
			t.Errorf("%d degrees of freedom: %v, scipy %v", i+1, studentFactor(i+1), wants)
		}
	}
	for _, c := range r.Chi {
		if !near(chiAbove(c[1], int(c[0])), c[2], 1e-9) {
			t.Errorf("chance of %v with %v: %v, scipy %v", c[1], c[0], chiAbove(c[1], int(c[0])), c[2])
		}
	}
}

// The committed values are what the script gives today.
func TestFitLine_scipyAnew(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import numpy, scipy.optimize, scipy.stats")
	fresh, err := exec.Command(python, referenceScript).Output()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(referenceFile)
	if err != nil {
		t.Fatal(err)
	}
	was, is := readReference(t, data), readReference(t, fresh)
	if len(was.Cases) != len(is.Cases) {
		t.Fatalf("%d cases committed, %d made anew", len(was.Cases), len(is.Cases))
	}
	for i, c := range was.Cases {
		d := is.Cases[i]
		if !reflect.DeepEqual(c.Y, d.Y) || !near(c.SlopeU, d.SlopeU, 1e-9) || !near(c.When, d.When, 1e-9) || c.From != nil && !near(*c.From, *d.From, 1e-6) {
			t.Errorf("%s: committed %+v, made anew %+v", c.Name, c, d)
		}
	}
}

// Of lines drawn anew with errors of a known size the interval of the drift holds the true
// one at least as often as its level says, and that of the date too: with errors that
// know nothing of one another, with an error of each instrument, and with scatter alone.
func TestFitLine_holds(t *testing.T) {
	const draws, slope, start, limit = 4000, 0.9, 20.0, 40.0
	times := []float64{0, 2, 4.5, 6, 8, 10, 12}
	serials := []string{"A", "A", "B", "B", "C", "C", "C"}
	for name, err := range map[string]func(rng *rand.Rand) func(i int) float64{
		"apart": func(rng *rand.Rand) func(int) float64 { return func(int) float64 { return 0.6 * rng.NormFloat64() } },
		"together": func(rng *rand.Rand) func(int) float64 {
			of := map[string]float64{"A": 0.6 * rng.NormFloat64(), "B": 0.6 * rng.NormFloat64(), "C": 0.6 * rng.NormFloat64()}
			return func(i int) float64 { return of[serials[i]] }
		},
		"not known": func(rng *rand.Rand) func(int) float64 { return func(int) float64 { return rng.NormFloat64() } },
	} {
		rng := rand.New(rand.NewPCG(1954, 16))
		held, dated := 0, 0
		for range draws {
			off := err(rng)
			y, u := make([]float64, len(times)), make([]float64, len(times))
			for i, at := range times {
				y[i], u[i] = start+slope*at+off(i), 0.6
				if name == "not known" {
					u[i] = nan
				}
			}
			l := fitLine(times, y, u, serials)
			if math.Abs(l.slope-slope) <= l.slopeOff() {
				held++
			}
			if _, from, to, ok := l.meets(limit); !ok || from <= (limit-start)/slope && (limit-start)/slope <= to {
				dated++
			}
		}
		// 95.45 %, less four standard deviations of so many draws
		if least := int(draws*confidence - 4*math.Sqrt(draws*confidence*(1-confidence))); held < least || dated < least {
			t.Errorf("%s: of %d lines %d hold the true drift and %d the true date: at least %d are wanted", name, draws, held, dated, least)
		}
	}
}
