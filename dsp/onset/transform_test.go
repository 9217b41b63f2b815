package onset

import (
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

func TestTransform(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for n := 4; n <= 1<<14; n *= 2 {
		x := make([]float64, n)
		for i := range x {
			x[i] = random.NormFloat64()
		}
		tr := newTransform(n)
		c := make([]complex128, n/2+1)
		tr.forward(c, x)
		for k, v := range fourier.NewFFT(n).Coefficients(nil, x) {
			if d := cmplx.Abs(v - c[k]); d > 1e-11 {
				t.Fatalf("%d frames: bin %d is %v off", n, k, d)
			}
		}
		y := make([]float64, n)
		tr.back(y, c)
		for i, v := range x {
			if d := y[i]/float64(n) - v; d > 1e-13 || d < -1e-13 {
				t.Fatalf("%d frames: frame %d comes back %v off", n, i, d)
			}
		}
	}
}
