package power_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"

	"handback/checks/power"
	"handback/testdata/outside"
)

type soakFit struct {
	Final      float64 `json:"final"`
	Start      float64 `json:"start"`
	Tau        float64 `json:"tau"`
	Scatter    float64 `json:"scatter"`
	FinalError float64 `json:"final_error"`
	StartError float64 `json:"start_error"`
	TauError   float64 `json:"tau_error"`
}

type soakReference struct {
	Source string `json:"source"`
	Cases  []struct {
		Minutes []float64 `json:"minutes"`
		TempC   []float64 `json:"temp_C"`
		Fit     soakFit   `json:"fit"`
	} `json:"cases"`
}

func decodeStrictly(t testing.TB, data []byte, into any) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		t.Fatal(err)
	}
}

func soakReferences(t testing.TB, data []byte) soakReference {
	t.Helper()
	var r soakReference
	decodeStrictly(t, data, &r)
	if r.Source == "" || len(r.Cases) < 10 {
		t.Fatalf("source %q with %d cases", r.Source, len(r.Cases))
	}
	return r
}

const soakFile = "../../testdata/reference/soak.json"

// Every fit agrees with scipy's, standard errors included.
func TestFitHeating_reference(t *testing.T) {
	data, err := os.ReadFile(soakFile)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range soakReferences(t, data).Cases {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			h := must[power.Heating](t)(power.FitHeating(c.Minutes, c.TempC))
			near(t, "final °C", h.Final, c.Fit.Final, 1e-6)
			near(t, "start °C", h.Start, c.Fit.Start, 1e-6)
			near(t, "time constant", h.Tau, c.Fit.Tau, 1e-6)
			near(t, "scatter K", h.Scatter, c.Fit.Scatter, 1e-5)
			near(t, "error of final", h.FinalError, c.Fit.FinalError, 1e-5)
			near(t, "error of start", h.StartError, c.Fit.StartError, 1e-5)
			near(t, "error of the time constant", h.TauError, c.Fit.TauError, 1e-5)
		})
	}
}

// The kept reference is what the script makes today.
func TestOutside_scipySoak(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import scipy.optimize")
	cmd := exec.Command(python, "../../testdata/reference/soak.py")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(soakFile)
	if err != nil {
		t.Fatal(err)
	}
	kept, made := soakReferences(t, data), soakReferences(t, out)
	if len(kept.Cases) != len(made.Cases) {
		t.Fatalf("%d cases are kept, %d were made", len(kept.Cases), len(made.Cases))
	}
	for i, k := range kept.Cases {
		m := made.Cases[i]
		if fmt.Sprint(k.Minutes, k.TempC) != fmt.Sprint(m.Minutes, m.TempC) {
			t.Errorf("case %d: readings %v %v, kept %v %v", i, m.Minutes, m.TempC, k.Minutes, k.TempC)
		}
		near(t, fmt.Sprint(i, " final"), m.Fit.Final, k.Fit.Final, 1e-6)
		near(t, fmt.Sprint(i, " time constant"), m.Fit.Tau, k.Fit.Tau, 1e-6)
		near(t, fmt.Sprint(i, " error of final"), m.Fit.FinalError, k.Fit.FinalError, 1e-5)
		near(t, fmt.Sprint(i, " error of the time constant"), m.Fit.TauError, k.Fit.TauError, 1e-5)
	}
}

// Exact curves read to one decimal give their final temperature and time constant
// back within three times what a rounding of ±0.05 K (0.05/√3 as standard
// deviation) leaves open.
func TestCases_soak(t *testing.T) {
	data, err := os.ReadFile("../../testdata/cases/power-soak.json")
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		Source string `json:"source"`
		Soak   []struct {
			Minutes []float64 `json:"minutes"`
			TempC   []float64 `json:"temp_C"`
			FinalC  float64   `json:"final_C"`
			TauMin  float64   `json:"tau_min"`
		} `json:"soak"`
	}
	decodeStrictly(t, data, &f)
	if f.Source == "" || len(f.Soak) == 0 {
		t.Fatal("power-soak.json: no source or no case")
	}
	for i, c := range f.Soak {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			h := must[power.Heating](t)(power.FitHeating(c.Minutes, c.TempC))
			rounding := 0.05 / math.Sqrt(3) / h.Scatter
			within(t, "final °C", h.Final, c.FinalC, 3*rounding*h.FinalError)
			within(t, "time constant min", h.Tau, c.TauMin, 3*rounding*h.TauError)
			within(t, "scatter", h.Scatter, 0, 0.05)
			within(t, "last point of the curve", h.At(180), c.TempC[len(c.TempC)-1], 0.1)
		})
	}
}

func TestFitHeating_scales(t *testing.T) {
	minutes := []float64{0, 15, 30, 45, 60, 90, 120}
	temps := []float64{20.1, 41.8, 56.2, 66.3, 72.5, 80.1, 83.4}
	in := must[power.Heating](t)(power.FitHeating(minutes, temps))
	var seconds, warmer []float64
	for i := range minutes {
		seconds, warmer = append(seconds, 3600+60*minutes[i]), append(warmer, temps[i]+100)
	}
	s := must[power.Heating](t)(power.FitHeating(seconds, warmer))
	near(t, "time constant in seconds", s.Tau, 60*in.Tau, 1e-9)
	near(t, "final 100 K up", s.Final, in.Final+100, 1e-9)
	near(t, "error of final", s.FinalError, in.FinalError, 1e-6)
}

func TestFitHeating_refuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name string
		t, y []float64
	}{
		{"nothing", nil, nil},
		{"three readings", []float64{0, 1, 2}, []float64{20, 30, 35}},
		{"fewer temperatures", []float64{0, 1, 2, 3}, []float64{20, 30, 35}},
		{"time stands", []float64{0, 1, 1, 3}, []float64{20, 30, 35, 37}},
		{"time goes back", []float64{0, 2, 1, 3}, []float64{20, 30, 35, 37}},
		{"time is no number", []float64{0, nan, 2, 3}, []float64{20, 30, 35, 37}},
		{"endless time", []float64{0, 1, 2, inf}, []float64{20, 30, 35, 37}},
		{"span beyond numbers", []float64{-math.MaxFloat64, 0, 1, math.MaxFloat64}, []float64{20, 30, 35, 37}},
		{"temperature is no number", []float64{0, 1, 2, 3}, []float64{20, nan, 35, 37}},
		{"below absolute zero", []float64{0, 1, 2, 3}, []float64{-273.2, 30, 35, 37}},
		{"all alike", []float64{0, 1, 2, 3}, []float64{20, 20, 20, 20}},
		{"straight line", []float64{0, 1, 2, 3, 4}, []float64{20, 30, 40, 50, 60}},
		{"bends upwards", []float64{0, 1, 2, 3, 4}, []float64{20, 21, 24, 29, 36}},
		{"one step", []float64{0, 10, 20, 30, 40}, []float64{20, 60, 60, 60, 60}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if h, err := power.FitHeating(c.t, c.y); !errors.Is(err, power.ErrCurve) {
				t.Errorf("%+v, error %v: want ErrCurve", h, err)
			}
		})
	}
}

// No readings bring a curve that is not finite, or a panic.
func FuzzFitHeating(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 20.0, 30.0, 35.0, 37.0)
	f.Add(1e-300, 1.0, 1e300, -270.0, 1e300, 0.0, 5.0)
	f.Fuzz(func(t *testing.T, t2, t3, t4, a, b, c, d float64) {
		h, err := power.FitHeating([]float64{0, t2, t3, t4}, []float64{a, b, c, d})
		if err != nil {
			return
		}
		for _, x := range []float64{h.Start, h.Final, h.Tau, h.Scatter, h.StartError, h.FinalError, h.TauError} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%+v of %v %v %v %v %v %v %v", h, t2, t3, t4, a, b, c, d)
			}
		}
		if !(h.Tau > 0) {
			t.Fatalf("time constant %v", h.Tau)
		}
	})
}
