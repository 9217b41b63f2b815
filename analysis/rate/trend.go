package rate

import (
	"math"
	"slices"

	"rundown/analysis/drift"
)

// observation is one figure of a series to be smoothed.
type observation struct {
	t     float64 // s
	y     float64
	se    float64 // standard error of y, up to a factor common to all
	fresh bool    // the series starts anew here
}

// state is a smoothed figure and its rate of change, with standard errors.
type state struct {
	level, levelSE float64
	slope, slopeSE float64 // per second
}

// trend smooths a series as one that drifts (see package drift). How strongly
// it smooths is settled by maximum likelihood, but for plain bends, which it
// follows. The errors of the observations are taken as given where they explain
// the scatter, and as too small by a common factor where they do not. An
// observation far from what its neighbours on both sides say is left out; the
// trend then bridges it.
//
// shortest is the time in seconds over which the trend may bend at the least;
// 0 lets the likelihood decide.
//
// obs must be in order of time. It is O(n).
func trend(obs []observation, shortest float64) []state {
	if len(obs) == 0 {
		return nil
	}
	s := newSmoother(obs, shortest)
	s.settle()
	s.smooth()
	return s.states()
}

// smoother works in scaled units: time in mean steps, figures in median
// standard errors, so that one range of wander suits every series.
type smoother struct {
	obs       []observation // scaled
	bad       []bool        // observations left out
	step      float64       // s
	unit      float64
	base      float64   // figure that counts as 0
	most      float64   // greatest wander allowed
	diffuse   float64   // variance of a slope of which nothing is known
	free      []float64 // wander that observations plainly ask for, from each to the next
	noise     float64   // factor on the variances of the observations
	filtered  []drift.State
	predicted []drift.State
	smoothed  []drift.State
}

func newSmoother(obs []observation, shortest float64) *smoother {
	n := len(obs)
	s := &smoother{
		obs:       slices.Clone(obs),
		bad:       make([]bool, n),
		filtered:  make([]drift.State, n),
		predicted: make([]drift.State, n),
		smoothed:  make([]drift.State, n),
		base:      obs[0].y,
		step:      1,
		most:      1e8,
	}
	if span := obs[n-1].t - obs[0].t; span > 0 {
		s.step = span / float64(n-1)
	}
	errors := make([]float64, n)
	for i, o := range obs {
		errors[i] = o.se
	}
	if s.unit = median(errors); s.unit == 0 {
		s.unit = 1
	}
	if shortest > 0 {
		s.most = math.Pow(s.step/shortest, 4)
	}
	steepest := 0.
	for i := range s.obs {
		o := &s.obs[i]
		o.t = (o.t - obs[0].t) / s.step
		o.y = (o.y - s.base) / s.unit
		o.se = math.Max(o.se/s.unit, 1e-6)
		if i > 0 && !o.fresh {
			d := (o.y - s.obs[i-1].y) / math.Max(o.t-s.obs[i-1].t, 1e-3)
			steepest = math.Max(steepest, d*d)
		}
	}
	s.diffuse = 1e3 * (steepest + 10)
	s.doubt()
	s.loosen()
	return s
}

// settle goes forwards with the wander of greatest likelihood.
func (s *smoother) settle() {
	const low = -12
	s.filter(drift.Wander(low, math.Max(low, math.Log10(s.most)), s.filter))
}

// filter goes forwards with the given wander, the variance of slope gained in a
// step relative to the noise, and returns the log likelihood, up to a constant,
// with the noise that makes it greatest.
func (s *smoother) filter(wander float64) float64 {
	var g drift.State
	logs, squares, n := 0., 0., 0
	for i, o := range s.obs {
		v := o.se * o.se
		if i == 0 || o.fresh {
			g = drift.State{Level: o.y, LevelVar: v, SlopeVar: s.diffuse}
			n--
			if s.bad[i] { // nothing is known of the level either
				g.LevelVar = s.diffuse * s.diffuse
				n--
			}
			s.predicted[i], s.filtered[i] = g, g
			continue
		}
		g = g.After(o.t-s.obs[i-1].t, math.Min(wander+s.free[i-1], s.most))
		s.predicted[i] = g
		if !s.bad[i] {
			e, total := o.y-g.Level, g.LevelVar+v
			logs += math.Log(total)
			squares += e * e / total
			n++
			g = g.Update(o.y, v)
		}
		s.filtered[i] = g
	}
	s.noise = 1
	if n > 0 {
		s.noise = math.Max(1, squares/float64(n))
	}
	return -0.5 * (logs + float64(max(n, 0))*math.Log(s.noise) + squares/s.noise)
}

// smooth goes backwards.
func (s *smoother) smooth() {
	n := len(s.obs)
	s.smoothed[n-1] = s.filtered[n-1]
	for i := n - 2; i >= 0; i-- {
		now, next := s.filtered[i], s.predicted[i+1]
		if s.obs[i+1].fresh {
			s.smoothed[i] = now
			continue
		}
		gain := now.Gain(s.obs[i+1].t-s.obs[i].t, next)
		s.smoothed[i] = now.Back(gain, next, s.smoothed[i+1])
	}
}

// states returns the result in the units given.
func (s *smoother) states() []state {
	out := make([]state, len(s.obs))
	noise := math.Sqrt(s.noise)
	for i, g := range s.smoothed {
		out[i] = state{
			level:   s.base + g.Level*s.unit,
			levelSE: noise * math.Sqrt(math.Max(g.LevelVar, 0)) * s.unit,
			slope:   g.Slope * s.unit / s.step,
			slopeSE: noise * math.Sqrt(math.Max(g.SlopeVar, 0)) * s.unit / s.step,
		}
	}
	return out
}
