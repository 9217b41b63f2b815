package fusee

import (
	"math"
	"math/rand/v2"
	"testing"
)

// spring is the torque of a spring that does not exist, N·mm, over 7 turns.
func spring(turn float64) float64 {
	u := turn / 7
	return 600 * (1 - 0.35*u + 0.12*math.Exp(-5*u) - 0.25*math.Pow(u, 6))
}

// The curve comes nearer to the truth than the figures do, and its errors are what they
// say: of 200 tables each, of 2 to 8 figures a turn that scatter by 0.3 to 3 %. (The root mean
// square of the error over its standard error was 0.89 to 1.11.)
func TestCurveKnowsItsErrors(t *testing.T) {
	for _, noise := range []float64{0.003, 0.01, 0.03} {
		for _, perTurn := range []int{2, 4, 8} {
			rng := rand.New(rand.NewPCG(20, 1))
			var z, off, n, found float64
			for range 200 {
				var x, y []float64
				for i := range 7*perTurn + 1 {
					x = append(x, float64(i)/float64(perTurn))
					y = append(y, spring(x[i])*(1+noise*rng.NormFloat64()))
				}
				c := NewCurve(x, y, nil)
				found += scatter(x, y) / spring(3.5) / 200
				for at := 0.0; at <= 7; at += 0.1 {
					e := c.At(at) - spring(at)
					se, _ := c.Errors(at)
					z, off, n = z+e*e/(se*se), off+math.Pow(e/spring(at), 2), n+1
				}
			}
			z, off = math.Sqrt(z/n), math.Sqrt(off/n)
			t.Logf("%v noise, %d a turn: scatter %.4f, error %.4f, %.2f of its standard error", noise, perTurn, found, off, z)
			if z < 0.8 || z > 1.25 || off > 1.2*noise || math.Abs(found/noise-1) > 0.25 {
				t.Errorf("%v noise, %d a turn: scatter %.4f, error %.4f, %.2f of its standard error", noise, perTurn, found, off, z)
			}
		}
	}
}

func TestWorkIsTheAreaUnderTheCurve(t *testing.T) {
	c := curveOf(7, 4, func(x float64) float64 { return 900 - 100*x })
	// (900 + 200)/2 over 7 turns, and (700 + 650)/2 over half a turn.
	for _, w := range []struct{ from, to, want float64 }{{0, 7, 550 * 7}, {2, 2.5, 675 * 0.5}, {3, 3, 0}} {
		if got := c.Work(w.from, w.to); math.Abs(got-2*math.Pi*w.want) > 1e-9*2*math.Pi*w.want {
			t.Errorf("from %v to %v: %v", w.from, w.to, got)
		}
	}
}

func TestScatterOfACubicIsNone(t *testing.T) {
	x, y := []float64{0, 0.3, 1, 1.2, 2, 3.5, 3.6}, make([]float64, 7)
	for i, v := range x {
		y[i] = 5 + v - 2*v*v + v*v*v
	}
	if s := scatter(x, y); s > 1e-9 {
		t.Errorf("%v", s)
	}
	if scatter(x[:4], y[:4]) != 0 {
		t.Error("scatter of four figures")
	}
}

// A spring is steepest at its ends, and a table of one row a turn has little to tell that by:
// its first and its last row count as the others do.
func TestCurveFollowsTheEnds(t *testing.T) {
	x, y := []float64{0, 1, 2, 3, 4, 5, 6, 7}, []float64{655, 549, 508, 476, 442, 404, 355, 248}
	c := NewCurve(x, y, nil)
	for i := range x {
		if math.Abs(c.At(x[i])/y[i]-1) > 0.015 {
			t.Errorf("at %v turns: %.1f, measured %v", x[i], c.At(x[i]), y[i])
		}
	}
}
