package fault

import "math"

// taper tells how much of a segment's values is left under a window.
type taper struct {
	weight  float64 // sum of the window
	squares float64 // sum of its squares
}

// applyTaper multiplies x by Hann's window, which is 0 just outside both ends.
func applyTaper(x []float64) taper {
	var t taper
	for i := range x {
		s := math.Sin(math.Pi * (float64(i) + 0.5) / float64(len(x)))
		w := s * s
		x[i] *= w
		t.weight += w
		t.squares += w * w
	}
	return t
}
