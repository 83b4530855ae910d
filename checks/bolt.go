package checks

import "math"

// bolt is a steel bolt by its size and property class, for a cross-check of a
// torque the maker gives. It never makes a target.
type bolt struct {
	Size       string `plan:"size,need" one:"M5|M6|M8|M10|M12|M14|M16|M18|M20|M22|M24|M27|M30" doc:"size with coarse thread, such as M10"`
	Class      string `plan:"class,need" one:"4.6|4.8|5.6|5.8|6.8|8.8|9.8|10.9|12.9" doc:"property class of ISO 898-1, such as 8.8"`
	Lubricated bool   `plan:"lubricated" doc:"yes when thread and face are lubricated"`
}

// threads are the nominal diameter and coarse pitch in mm of each size (ISO 261).
var threads = map[string]struct{ d, pitch float64 }{
	"M5": {5, 0.8}, "M6": {6, 1}, "M8": {8, 1.25}, "M10": {10, 1.5}, "M12": {12, 1.75}, "M14": {14, 2}, "M16": {16, 2},
	"M18": {18, 2.5}, "M20": {20, 2.5}, "M22": {22, 2.5}, "M24": {24, 3}, "M27": {27, 3}, "M30": {30, 3.5},
}

// proofStress is the stress under proof load in MPa by class: ISO 898-1, whose
// printed proof loads it gives within their rounding. Class 8.8 is 580 to 16 mm
// and 600 above.
var proofStress = map[string]float64{
	"4.6": 225, "4.8": 310, "5.6": 280, "5.8": 380, "6.8": 440, "8.8": 580, "9.8": 650, "10.9": 830, "12.9": 970,
}

// stressArea is the thread's tensile stress area in mm², from diameter d and
// pitch P in mm (ISO 898-1 with the thread of ISO 724):
//
//	A = π/4 · (d − 0.9382·P)²
func (b bolt) stressArea() float64 {
	t := threads[b.Size]
	x := t.d - float64(0.9382*t.pitch)
	return math.Pi / 4 * float64(x*x)
}

// proof is the stress under proof load in MPa.
func (b bolt) proof() float64 {
	if b.Class == "8.8" && threads[b.Size].d > 16 {
		return 600
	}
	return proofStress[b.Class]
}

// Shares of the cross-check, common practice.
const (
	clampShare    = 0.75 // of proof load
	nutDry        = 0.20
	nutLubricated = 0.15
)

// torque is the torque in N·m that brings the bolt to 75 % of its proof load:
//
//	T = K · d · F      F = 0.75 · S_p · A
//
//	K    0.20 dry, 0.15 lubricated (common practice)
//	d    nominal diameter  m
//	S_p  proof stress      MPa = N/mm²
//	A    stress area       mm²
func (b bolt) torque() float64 {
	k := nutDry
	if b.Lubricated {
		k = nutLubricated
	}
	return nutTorque(k, threads[b.Size].d/1000, clampShare*b.proof()*b.stressArea())
}

// nutTorque is T = K·d·F for nut factor K, diameter d and clamping force F, in
// the units of d and F.
func nutTorque(k, d, f float64) float64 { return k * d * f }

func (b bolt) thread() string {
	if b.Lubricated {
		return "lubricated"
	}
	return "dry"
}
