package trend

import "math"

// confidence is the level of the expanded uncertainties here: that of the normal
// distribution within twice its standard deviation.
var confidence = math.Erf(math.Sqrt2)

// studentFactor is how many standard uncertainties an expanded one has, of so many degrees
// of freedom, 1 or more: the t with A(t|ν) = 95.45 % (JCGM 100:2008, table G.2).
func studentFactor(freedom int) float64 {
	low, high := 0.0, 20.0 // 13.97 for one degree
	for range 60 {
		if mid := (low + high) / 2; studentWithin(mid, freedom) < confidence {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// studentWithin is the chance A(t|ν) that a value of Student's distribution lies within ±t:
// with θ = arctan(t/√ν), a sum of finite length (Abramowitz and Stegun 26.7.3 and 26.7.4,
// from memory of the numbers):
//
//	ν odd   2/π·(θ + sinθ·(cosθ + 2/3·cos³θ + … + (2·4·…·(ν−3))/(3·5·…·(ν−2))·cos^(ν−2)θ))
//	ν even  sinθ·(1 + 1/2·cos²θ + 1·3/(2·4)·cos⁴θ + … + (1·3·…·(ν−3))/(2·4·…·(ν−2))·cos^(ν−2)θ)
func studentWithin(t float64, freedom int) float64 {
	angle := math.Atan(t / math.Sqrt(float64(freedom)))
	sin, cos := math.Sincos(angle)
	term, first := 1.0, 2
	if freedom%2 == 1 {
		term, first = cos, 3
	}
	sum := 0.0
	for k := first; k <= freedom; k += 2 {
		sum += term
		term *= float64(k-1) / float64(k) * cos * cos
	}
	if freedom%2 == 1 {
		return 2 / math.Pi * (angle + sin*sum)
	}
	return sin * sum
}

// chiAbove is the chance Q(χ²|ν) that a sum of ν squares is at least so great, a sum of
// finite length (Abramowitz and Stegun 26.4.4 and 26.4.5, from memory of the numbers).
func chiAbove(chi2 float64, freedom int) float64 {
	if !(chi2 > 0) {
		return 1
	}
	sum, term, first := 0.0, math.Exp(-chi2/2), 2
	if freedom%2 == 1 {
		sum = math.Erfc(math.Sqrt(chi2 / 2))
		term, first = math.Sqrt(2*chi2/math.Pi)*math.Exp(-chi2/2), 3
	}
	for k := first; k <= freedom; k += 2 {
		sum += term
		term *= chi2 / float64(k)
	}
	return sum
}
