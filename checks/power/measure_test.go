package power_test

import (
	"errors"
	"math"
	"math/cmplx"
)

// reporter and stopper are what these checks need of testing.TB and of rapid.T alike.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

type stopper interface {
	Helper()
	Fatal(args ...any)
}

// near fails unless got is within rel of want, relative to want; NaN fails.
func near(t reporter, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, rel)
	}
}

// within fails unless got is within abs of want; NaN fails.
func within(t reporter, what string, got, want, abs float64) {
	t.Helper()
	if !(math.Abs(got-want) <= abs) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, abs)
	}
}

// withinZ is within for phasors.
func withinZ(t reporter, what string, got, want complex128, abs float64) {
	t.Helper()
	if !(cmplx.Abs(got-want) <= abs) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, abs)
	}
}

// refused fails unless err is of the sentinel and says more than the sentinel does.
func refused(t reporter, what string, err, sentinel error) {
	t.Helper()
	if !errors.Is(err, sentinel) {
		t.Errorf("%s: error %v, want %q", what, err, sentinel)
		return
	}
	if len(err.Error()) < len(sentinel.Error())+10 {
		t.Errorf("%s: %q does not say what was met", what, err)
	}
}

// must returns v and stops the test on an error.
func must[T any](t stopper) func(v T, err error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
