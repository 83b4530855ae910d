package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ErrAmbiguous marks a number that two readers would read as two numbers.
var ErrAmbiguous = errors.New("ambiguous number")

// maxNumber is the longest number anyone types; longer text is a paste.
const maxNumber = 40

// ParseNumber reads one decimal number as typed at a switchboard: an optional
// sign, digits, at most one decimal point or comma, an optional exponent.
//
//	418.2   418,2   -3   −3   1.5e3   .5
//
// Refused: NaN, infinities, hexadecimal, grouping, overflow, and the ambiguous:
// a comma followed by exactly three digits (1,234) unless the part before it is
// 0 or longer than three digits, so that it cannot be a thousands group.
func ParseNumber(s string) (float64, error) {
	n := strings.Replace(s, "−", "-", 1)
	if n == "" {
		return 0, errors.New("no number: type digits such as 418.2")
	}
	if len(n) > maxNumber {
		return 0, fmt.Errorf("number of %d characters: at most %d are read", len(n), maxNumber)
	}
	mantissa, err := splitNumber(n)
	if err != nil {
		return 0, fmt.Errorf("%q %w", s, err)
	}
	if i := strings.IndexByte(mantissa, ','); i >= 0 {
		sign, after := "", mantissa[i+1:]
		before := strings.TrimLeft(mantissa[:i], "+-")
		if mantissa[0] == '-' {
			sign = "-"
		}
		if len(after) == 3 && len(before) >= 1 && len(before) <= 3 && before != "0" {
			return 0, fmt.Errorf("%q is read two ways (%w): type %s%s.%s or %s%s%s", s, ErrAmbiguous, sign, before, after, sign, before, after)
		}
		n = strings.Replace(n, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(n, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, fmt.Errorf("%q is too large to be a reading", s)
	}
	return x, nil
}

var errShape = errors.New("is not a number: type digits with at most one decimal point or comma, such as 418.2")

// splitNumber checks the grammar and returns the part before any exponent.
func splitNumber(n string) (string, error) {
	mantissa, exponent, hasExp := n, "", false
	if i := strings.IndexAny(n, "eE"); i >= 0 {
		mantissa, exponent, hasExp = n[:i], n[i+1:], true
	}
	digits, marks := 0, 0
	for i, c := range mantissa {
		switch {
		case c >= '0' && c <= '9':
			digits++
		case c == '.' || c == ',':
			marks++
		case (c == '+' || c == '-') && i == 0:
		default:
			return "", errShape
		}
	}
	if digits == 0 || marks > 1 {
		return "", errShape
	}
	if hasExp {
		e := strings.TrimLeft(exponent, "+-")
		if len(exponent)-len(e) > 1 || len(e) < 1 || len(e) > 2 || strings.Trim(e, "0123456789") != "" {
			return "", errShape
		}
	}
	return mantissa, nil
}
