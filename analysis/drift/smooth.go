package drift

import (
	"math"
	"slices"

	"rundown/dsp/stats"
)

// Observation is one figure of a series to be smoothed.
type Observation struct {
	Time  float64
	Value float64
	SE    float64 // standard error of Value, up to a factor common to all
	Fresh bool    // the series starts anew here
}

// Estimate is a smoothed figure and its rate of change, with standard errors.
type Estimate struct {
	Level, LevelSE float64
	Slope, SlopeSE float64 // per unit of time
}

// Smooth smooths a series as one that drifts (see package drift). How strongly
// it smooths is settled by maximum likelihood, but for plain bends, which it
// follows. The errors of the observations are taken as given where they explain
// the scatter, and as too small where they do not, by a factor that the observations
// around tell: the ends of a run do not blur its middle. An
// observation far from what its neighbours on both sides say is left out; the
// trend then bridges it.
//
// shortest is the time in seconds over which the trend may bend at the least;
// 0 lets the likelihood decide.
//
// obs must be in order of time. It is O(n).
func Smooth(obs []Observation, shortest float64) []Estimate {
	if len(obs) == 0 {
		return nil
	}
	s := newSmoother(obs, shortest)
	s.fitProcessNoise()
	s.smooth()
	return s.states()
}

// SmoothAll is Smooth for a few observations made with care: all of them count, and the
// course bends as it is likeliest to bend all along, also at its ends.
func SmoothAll(obs []Observation) []Estimate {
	if len(obs) == 0 {
		return nil
	}
	s := scaled(obs, 0)
	s.fitProcessNoise()
	s.smooth()
	return s.states()
}

// Between returns what is known of a time that comes after one estimate and before the next;
// after and apart are in units of time, apart being that from one to the next. The cubic that
// has the levels and slopes of both is the mean of all courses that do (G. Wahba, JRSS B 40,
// 1978). About it they vary as the integral of a random walk does that is held at both ends:
// its process noise is taken to be the square of what the slope changes by, over the time.
func Between(from, to Estimate, apart, after float64) Estimate {
	u := after / apart
	v := 1 - u
	level := [4]float64{v * v * (1 + 2*u), u * u * (1 + 2*v), u * v * v * apart, -u * u * v * apart}
	slope := [4]float64{-6 * u * v / apart, 6 * u * v / apart, v * (1 - 3*u), u * (1 - 3*v)}
	turn := math.Abs(to.Slope - from.Slope)
	e := Estimate{LevelSE: turn * apart * u * v * math.Sqrt(u*v/3), SlopeSE: turn * math.Sqrt(u*v*(1-3*u*v))}
	for i, x := range [4][2]float64{{from.Level, from.LevelSE}, {to.Level, to.LevelSE}, {from.Slope, from.SlopeSE}, {to.Slope, to.SlopeSE}} {
		e.Level += level[i] * x[0]
		e.Slope += slope[i] * x[0]
		e.LevelSE = math.Hypot(e.LevelSE, level[i]*x[1])
		e.SlopeSE = math.Hypot(e.SlopeSE, slope[i]*x[1])
	}
	return e
}

// smoother works in scaled units: time in mean steps, figures in median
// standard errors, so that one range of process noise suits every series.
type smoother struct {
	obs       []Observation // scaled
	bad       []bool        // observations left out
	step      float64       // s
	unit      float64
	base      float64   // figure that counts as 0
	most      float64   // greatest process noise allowed
	diffuse   float64   // variance of a slope of which nothing is known
	surprises []float64 // squares of what each observation is off its prediction, over their variance; NaN where there is none
	free      []float64 // process noise that observations plainly ask for, from each to the next
	noise     float64   // factor on the variances of the observations
	filtered  []State
	predicted []State
	smoothed  []State
}

func newSmoother(obs []Observation, shortest float64) *smoother {
	s := scaled(obs, shortest)
	s.rejectOutliers()
	s.raiseProcessNoise()
	return s
}

// scaled takes all observations as good, and as bending alike.
func scaled(obs []Observation, shortest float64) *smoother {
	n := len(obs)
	s := &smoother{
		obs:       slices.Clone(obs),
		bad:       make([]bool, n),
		filtered:  make([]State, n),
		predicted: make([]State, n),
		smoothed:  make([]State, n),
		base:      obs[0].Value,
		step:      1,
		most:      1e8,
	}
	if span := obs[n-1].Time - obs[0].Time; span > 0 {
		s.step = span / float64(n-1)
	}
	errors := make([]float64, n)
	for i, o := range obs {
		errors[i] = o.SE
	}
	if s.unit = stats.Median(errors); s.unit == 0 {
		s.unit = 1
	}
	if shortest > 0 {
		s.most = math.Pow(s.step/shortest, 4)
	}
	steepest := 0.
	for i := range s.obs {
		o := &s.obs[i]
		o.Time = (o.Time - obs[0].Time) / s.step
		o.Value = (o.Value - s.base) / s.unit
		o.SE = math.Max(o.SE/s.unit, 1e-6)
		if i > 0 && !o.Fresh {
			d := (o.Value - s.obs[i-1].Value) / math.Max(o.Time-s.obs[i-1].Time, 1e-3)
			steepest = math.Max(steepest, d*d)
		}
	}
	s.diffuse = 1e3 * (steepest + 10)
	s.free = make([]float64, n)
	s.surprises = make([]float64, n)
	return s
}

// fitProcessNoise goes forwards with the process noise of greatest likelihood.
func (s *smoother) fitProcessNoise() {
	const low = -12
	s.filter(ProcessNoise(low, math.Max(low, math.Log10(s.most)), s.filter))
}

// filter goes forwards with the given process noise, the variance of slope gained in a
// step relative to the noise, and returns the log likelihood, up to a constant,
// with the noise that makes it greatest.
func (s *smoother) filter(processNoise float64) float64 {
	var g State
	logs, squares, n := 0., 0., 0
	for i, o := range s.obs {
		v := o.SE * o.SE
		s.surprises[i] = math.NaN()
		if i == 0 || o.Fresh {
			g = State{Level: o.Value, LevelVar: v, SlopeVar: s.diffuse}
			n--
			if s.bad[i] { // nothing is known of the level either
				g.LevelVar = s.diffuse * s.diffuse
				n--
			}
			s.predicted[i], s.filtered[i] = g, g
			continue
		}
		g = g.After(o.Time-s.obs[i-1].Time, math.Min(processNoise+s.free[i-1], s.most))
		s.predicted[i] = g
		if !s.bad[i] {
			e, total := o.Value-g.Level, g.LevelVar+v
			logs += math.Log(total)
			s.surprises[i] = e * e / total
			squares += s.surprises[i]
			n++
			g = g.Update(o.Value, v)
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
		if s.obs[i+1].Fresh {
			s.smoothed[i] = now
			continue
		}
		gain := now.Gain(s.obs[i+1].Time-s.obs[i].Time, next)
		s.smoothed[i] = now.Back(gain, next, s.smoothed[i+1])
	}
}

// states returns the result in the units given.
func (s *smoother) states() []Estimate {
	out := make([]Estimate, len(s.obs))
	for i, g := range s.smoothed {
		noise := math.Sqrt(s.noiseAt(i))
		out[i] = Estimate{
			Level:   s.base + g.Level*s.unit,
			LevelSE: noise * math.Sqrt(math.Max(g.LevelVar, 0)) * s.unit,
			Slope:   g.Slope * s.unit / s.step,
			SlopeSE: noise * math.Sqrt(math.Max(g.SlopeVar, 0)) * s.unit / s.step,
		}
	}
	return out
}

// around is from how many observations on either side the noise at one is told: with
// those, to a third of itself.
const around = 8

// noiseAt is the factor on the variances about an observation. Where all of them
// together ask for none, what a few do is chance.
func (s *smoother) noiseAt(at int) float64 {
	if s.noise == 1 {
		return 1
	}
	sum, n := 0., 0.
	for i := max(0, at-around); i <= min(len(s.obs)-1, at+around); i++ {
		if x := s.surprises[i]; !math.IsNaN(x) {
			sum += x
			n++
		}
	}
	return math.Max(1, sum/math.Max(n, 1))
}
