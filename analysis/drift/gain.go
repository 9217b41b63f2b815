package drift

// Gain tells how a change of level and slope later bears on level and slope
// now, as a matrix of two rows and columns: LS is what the later slope does to
// the level now.
type Gain struct{ LL, LS, SL, SS float64 }

// Gain returns the gain from the time dt later, at which next was known
// beforehand: s.After(dt, wander). It is the covariance of now and then times
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
