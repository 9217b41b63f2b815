package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// The tails agree with gonum's as far as those go.
func TestLogGammaTail(t *testing.T) {
	for _, m := range []int{1, 2, 7, 60, 150} {
		for _, x := range []float64{1e-3, 0.5, 3, 40, 160, 400} {
			want := math.Log(mathext.GammaIncRegComp(float64(m), x))
			if got := LogGammaTail(m, x); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("shape %d, x %g: %g, want %g", m, x, got, want)
			}
		}
	}
	// Far out the first term of the asymptotic series is enough.
	if got, want := LogGammaTail(3, 1e5), -1e5+2*math.Log(1e5)-math.Log(2); math.Abs(got-want) > 1e-4 {
		t.Errorf("far tail %g, want %g", got, want)
	}
	if got := LogGammaTail(5, 0); got != 0 {
		t.Errorf("at 0: %g", got)
	}
}

func TestLogRatioTail(t *testing.T) {
	for _, w := range []float64{3, 13, 80} {
		for _, x := range []float64{0.1, 2, 9} {
			want := math.Log(distuv.F{D1: 2, D2: 2 * w}.Survival(x))
			if got := LogRatioTail(w, x); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("%g bins, x %g: %g, want %g", w, x, got, want)
			}
		}
	}
}

func TestLogBinomialTail(t *testing.T) {
	for _, c := range []struct {
		n, c int
		p    float64
	}{{5, 5, 0.1}, {40, 36, 1. / 30}, {40, 3, 1. / 30}, {1000, 60, 0.03}, {1000, 20, 0.03}, {7, 0, 0.5}} {
		want := 0.0
		if c.c > 0 {
			want = math.Log(mathext.RegIncBeta(float64(c.c), float64(c.n-c.c+1), c.p))
		}
		if got := LogBinomialTail(c.n, c.c, c.p); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
			t.Errorf("%+v: %g, want %g", c, got, want)
		}
	}
	if got, want := LogBinomialTail(500, 500, 1e-3), 500*math.Log(1e-3); math.Abs(got-want) > 1e-6 {
		t.Errorf("all of 500: %g, want %g", got, want)
	}
	if got := LogBinomialTail(3, 4, 0.5); !math.IsInf(got, -1) {
		t.Errorf("more than all: %g", got)
	}
}
