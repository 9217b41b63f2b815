package stats

// Vertex returns where a parabola through three equally spaced values has its
// extremum, relative to the middle one and in their spacing, within ±1/2; 0
// where they lie on a line.
func Vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if d == 0 {
		return 0
	}
	return max(-0.5, min(0.5, 0.5*(a-c)/d))
}
