package fusee

import "gonum.org/v1/gonum/integrate/quad"

// The Gauss-Legendre rule of four points between −1 and 1: exact for polynomials up to
// the seventh degree.
var gaussAt, gaussWeight = func() (at, weight [4]float64) {
	quad.Legendre{}.FixedLocations(at[:], weight[:], -1, 1)
	return at, weight
}()

// integral is that of a function that is smooth from a to b.
func integral(f func(float64) float64, a, b float64) float64 {
	sum := 0.0
	for i, at := range gaussAt {
		sum += gaussWeight[i] * f((a+b)/2+at*(b-a)/2)
	}
	return sum * (b - a) / 2
}
