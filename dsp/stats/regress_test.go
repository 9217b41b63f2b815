package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The interval of a coefficient holds it 95 times in 100, in noise that is white
// and in noise that wanders.
func TestRegress(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	for _, step := range []float64{0, 0.1} {
		const trials = 40
		within := 0
		for range trials {
			s := walk(rng, 120, 0.1, step)
			columns := [][]float64{make([]float64, 120), make([]float64, 120)}
			for i := range s.Y {
				columns[0][i] = math.Sin(float64(i) / 9)
				columns[1][i] = float64(i) / 60
				s.Y[i] += 2*columns[0][i] - 3*columns[1][i]
			}
			r, ok := s.Regress(columns)
			if !ok {
				t.Fatal("nothing was told")
			}
			c := r.Coefficients[0]
			if math.Abs(c.X-2) <= c.Doubt.Half() {
				within++
			}
			if c.Inflation > 2 || math.Abs(r.Alike[0][1]) > 0.7 {
				t.Errorf("the columns are taken for alike: inflation %v, correlation %v", c.Inflation, r.Alike[0][1])
			}
		}
		// Three standard errors of the share are 10 %.
		if within < trials*85/100 {
			t.Errorf("walk %v: %d of %d intervals hold the coefficient", step, within, trials)
		}
	}
}

func TestRegressRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(53, 54))
	s := walk(rng, 30, 0.1, 0)
	slope, constant := make([]float64, 30), make([]float64, 30)
	for i := range slope {
		slope[i], constant[i] = float64(i), 7
	}
	for name, columns := range map[string][][]float64{"constant": {constant}, "twice the same": {slope, slope}} {
		if r, ok := s.Regress(columns); ok {
			t.Errorf("%s: %+v", name, r.Coefficients)
		}
	}
	if _, ok := walk(rng, 5, 0.1, 0).Regress([][]float64{slope[:5]}); ok {
		t.Error("five figures told a coefficient")
	}
}
