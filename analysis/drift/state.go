package drift

// State is what is known of level and slope at one time: the means and the
// covariance of a Gaussian. Level and slope are in units of level and of level
// over time, the variances in their squares, the covariance in the product.
type State struct {
	Level, Slope       float64
	LevelVar, SlopeVar float64
	Cov                float64 // of level and slope
}

// After returns what is known dt later, where nothing is observed meanwhile and
// the slope gains the variance wander in a unit of time.
func (s State) After(dt, wander float64) State {
	return State{
		Level: s.Level + dt*s.Slope, Slope: s.Slope,
		LevelVar: s.LevelVar + 2*dt*s.Cov + dt*dt*s.SlopeVar + wander*dt*dt*dt/3,
		Cov:      s.Cov + dt*s.SlopeVar + wander*dt*dt/2,
		SlopeVar: s.SlopeVar + wander*dt,
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
