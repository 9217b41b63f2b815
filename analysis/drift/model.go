package drift

import (
	"math"
)

// State is what is known of level and slope at one time: the means and the
// covariance of a Gaussian. Level and slope are in units of level and of level
// over time, the variances in their squares, the covariance in the product.
type State struct {
	Level, Slope       float64
	LevelVar, SlopeVar float64
	Cov                float64 // of level and slope
}

// After returns what is known dt later, where nothing is observed meanwhile and
// the slope gains the variance process noise in a unit of time.
func (s State) After(dt, processNoise float64) State {
	return State{
		Level: s.Level + dt*s.Slope, Slope: s.Slope,
		LevelVar: s.LevelVar + 2*dt*s.Cov + dt*dt*s.SlopeVar + processNoise*dt*dt*dt/3,
		Cov:      s.Cov + dt*s.SlopeVar + processNoise*dt*dt/2,
		SlopeVar: s.SlopeVar + processNoise*dt,
	}
}

// Update returns what is known once the level was observed to be y, with an
// error of the given variance.
func (s State) Update(y, variance float64) State {
	total := s.LevelVar + variance
	off := y - s.Level
	return State{
		Level: s.Level + s.LevelVar/total*off, Slope: s.Slope + s.Cov/total*off,
		LevelVar: s.LevelVar * variance / total, Cov: s.Cov * variance / total,
		SlopeVar: s.SlopeVar - s.Cov/total*s.Cov,
	}
}

// ProcessNoise returns the process noise between 10^low and 10^high at which the likelihood
// is greatest: on a grid of decades from low on, then by golden section to
// about 1 %. likelihood is up to a constant, and may be logarithmic; it is called
// some tens of times. Where it is greatest at an end, that end is approached.
// It panics where low exceeds high.
func ProcessNoise(low, high float64, likelihood func(processNoise float64) float64) float64 {
	if !(low <= high) {
		panic("drift: no range for the process noise")
	}
	at := func(e float64) float64 { return likelihood(math.Pow(10, e)) }
	best, top := low, math.Inf(-1)
	for e := low; e <= high; e++ {
		if l := at(e); l > top {
			best, top = e, l
		}
	}
	const (
		golden = 0.6180339887
		steps  = 12 // two decades to 0.6 % of one
	)
	lo, hi := math.Max(low, best-1), math.Min(high, best+1)
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	la, lb := at(a), at(b)
	for range steps {
		if la > lb {
			hi, b, lb = b, a, la
			a = hi - golden*(hi-lo)
			la = at(a)
		} else {
			lo, a, la = a, b, lb
			b = lo + golden*(hi-lo)
			lb = at(b)
		}
	}
	return math.Pow(10, (lo+hi)/2)
}

// Gain tells how a change of level and slope later bears on level and slope
// now, as a matrix of two rows and columns: LS is what the later slope does to
// the level now.
type Gain struct{ LL, LS, SL, SS float64 }

// Gain returns the gain from the time dt later, at which next was known
// beforehand: s.After(dt, process noise). It is the covariance of now and then times
// the inverse of that of then (H. E. Rauch, F. Tung and C. T. Striebel, AIAA
// Journal 3, 1965).
func (s State) Gain(dt float64, next State) Gain {
	ll, ls := s.LevelVar+dt*s.Cov, s.Cov
	sl, ss := s.Cov+dt*s.SlopeVar, s.SlopeVar
	det := next.LevelVar*next.SlopeVar - next.Cov*next.Cov
	return Gain{
		LL: (ll*next.SlopeVar - ls*next.Cov) / det, LS: (ls*next.LevelVar - ll*next.Cov) / det,
		SL: (sl*next.SlopeVar - ss*next.Cov) / det, SS: (ss*next.LevelVar - sl*next.Cov) / det,
	}
}

// Back returns what is known now from all observations, where next was known of
// a later time beforehand and all is what is known of it now. g is the gain
// from then.
func (s State) Back(g Gain, next, all State) State {
	level, slope := all.Level-next.Level, all.Slope-next.Slope
	ll, ls, ss := all.LevelVar-next.LevelVar, all.Cov-next.Cov, all.SlopeVar-next.SlopeVar
	return State{
		Level: s.Level + g.LL*level + g.LS*slope, Slope: s.Slope + g.SL*level + g.SS*slope,
		LevelVar: s.LevelVar + g.LL*g.LL*ll + 2*g.LL*g.LS*ls + g.LS*g.LS*ss,
		Cov:      s.Cov + g.LL*g.SL*ll + (g.LL*g.SS+g.LS*g.SL)*ls + g.LS*g.SS*ss,
		SlopeVar: s.SlopeVar + g.SL*g.SL*ll + 2*g.SL*g.SS*ls + g.SS*g.SS*ss,
	}
}
