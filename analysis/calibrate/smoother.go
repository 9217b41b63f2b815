package calibrate

import (
	"math"
	"slices"

	"rundown/analysis/drift"
)

// smoother finds the most likely course of the clock through marks: its error x
// drifts (see package drift), and marks scatter about it independently. How
// much its rate wanders is settled by maximum likelihood. A break in the count
// starts x at a place of its own, while the rate goes on.
//
// It works in scaled units: time in steps, x in standard deviations of a mark.
type smoother struct {
	knots  []knot
	noise  float64 // variance of a mark of weight 1
	pred   []drift.State
	filt   []drift.State
	smooth []drift.State
	gains  []drift.Gain // from knot k+1 to knot k
}

// knot is a time at which the clock's course is found; with weight 0 there is
// no mark.
type knot struct {
	t, x   float64
	weight float64 // inverse of the mark's variance, in units of noise
	fresh  bool
}

// Variances of what nothing is known of, in scaled units.
const (
	anywhere = 1e10
	anyRate  = 1e6
)

func newSmoother(knots []knot) *smoother {
	n := len(knots)
	s := &smoother{
		knots: knots,
		pred:  make([]drift.State, n), filt: make([]drift.State, n), smooth: make([]drift.State, n), gains: make([]drift.Gain, n),
	}
	s.filter(drift.ProcessNoise(math.Floor(-3*math.Log10(float64(n)))-2, 0, s.filter))
	s.back()
	return s
}

// filter goes forwards with the given wander, the variance that the rate gains
// in a step over that of a mark, and returns the log likelihood, up to a
// constant, with the noise that makes it greatest.
func (s *smoother) filter(wander float64) float64 {
	logs, squares, n := 0.0, 0.0, -1 // the rate takes a degree of freedom
	g := drift.State{LevelVar: anywhere, SlopeVar: anyRate}
	for i, k := range s.knots {
		if i > 0 {
			g = g.After(k.t-s.knots[i-1].t, wander)
			if k.fresh {
				g.Level, g.LevelVar, g.Cov = k.x, anywhere, 0
			}
		}
		s.pred[i] = g
		if k.weight > 0 {
			v := 1 / k.weight
			if total := g.LevelVar + v; total < anywhere/10 && total < anyRate/10 {
				e := k.x - g.Level
				logs += math.Log(total)
				squares += e * e / total
				n++
			}
			g = g.Update(k.x, v)
		}
		s.filt[i] = g
	}
	s.noise = 1
	if n > 0 && squares > 0 {
		s.noise = squares / float64(n)
	}
	return -0.5 * (logs + float64(max(n, 0))*math.Log(s.noise))
}

// back goes backwards.
func (s *smoother) back() {
	n := len(s.knots)
	s.smooth[n-1] = s.filt[n-1]
	for i := n - 2; i >= 0; i-- {
		now, next := s.filt[i], s.pred[i+1]
		if s.knots[i+1].fresh { // only the rate goes on
			s.gains[i] = drift.Gain{LS: now.Cov / next.SlopeVar, SS: now.SlopeVar / next.SlopeVar}
		} else {
			s.gains[i] = now.Gain(s.knots[i+1].t-s.knots[i].t, next)
		}
		s.smooth[i] = now.Back(s.gains[i], next, s.smooth[i+1])
	}
}

// rise returns by how much x grows from knot a to knot b, what happens at
// breaks left out, and the variance of that.
func (s *smoother) rise(a, b int) (growth, variance float64) {
	// The growth is a sum of weights times states; that of states up to k with
	// those after k follows from the covariance of neighbours, gain · next.
	weights := func(k int) (l, r float64) {
		dt := func(k int) float64 { return s.knots[k].t - s.knots[k-1].t }
		if k > a {
			if s.knots[k].fresh {
				r += dt(k) / 2
			} else {
				l++
			}
		}
		if k < b {
			if s.knots[k+1].fresh {
				r += dt(k+1) / 2
			} else {
				l--
			}
		}
		return l, r
	}
	var later [2]float64 // covariance of knot k's state with all later terms
	for k := b; k >= a; k-- {
		p := s.smooth[k]
		l, r := weights(k)
		growth += l*p.Level + r*p.Slope
		pl, pr := p.LevelVar*l+p.Cov*r, p.Cov*l+p.SlopeVar*r
		variance += l*(pl+2*later[0]) + r*(pr+2*later[1])
		if k > a {
			g := s.gains[k-1]
			u, v := pl+later[0], pr+later[1]
			later = [2]float64{g.LL*u + g.LS*v, g.SL*u + g.SS*v}
		}
	}
	return growth, max(variance, 0) * s.noise
}

// index returns the last knot that is not after t, the first for earlier ones.
func (s *smoother) index(t float64) int {
	i, found := slices.BinarySearchFunc(s.knots, t, func(k knot, t float64) int {
		switch {
		case k.t < t:
			return -1
		case k.t > t:
			return 1
		}
		return 0
	})
	if !found {
		i--
	}
	return max(i, 0)
}
