package compare

import (
	"math"
	"slices"

	"rundown/analysis/runs"
)

// temper returns copies of both runs in which the rate of a window that stands
// alone, far from what the windows around it say, has an error to match: a
// steep hour with an event in it is known less well than its fit can tell. Of
// which run it is cannot be said, so both windows get it.
func temper(before, after *runs.Run, ps []pair) (*runs.Run, *runs.Run) {
	const far = 3 // standard errors
	a, b := *before, *after
	a.Windows, b.Windows = slices.Clone(a.Windows), slices.Clone(b.Windows)
	s := pairUp(before, after, ps, rateOf).difference
	best, ok := likeliest(s.levels())
	if !ok {
		return &a, &b
	}
	smooth, _ := s.smooth(best)
	unit := s.typical()
	at := 0
	for _, p := range ps {
		w := &a.Windows[p.before]
		if at == s.len() || s.t[at] != (w.Start+w.End)/2 {
			continue
		}
		off := math.Abs(s.y[at]-smooth[at]) / math.Sqrt(best.noise*s.variance(at, unit))
		if off > far {
			w.Rate.SE *= off
			for k := p.after; k <= p.after+1 && k < len(b.Windows); k++ {
				if k == p.after || p.share > 0 {
					b.Windows[k].Rate.SE *= off
				}
			}
		}
		at++
	}
	return &a, &b
}

func likeliest(models []level) (level, bool) {
	if len(models) == 0 {
		return level{}, false
	}
	return slices.MaxFunc(models, func(a, b level) int {
		switch {
		case a.weight < b.weight:
			return -1
		case a.weight > b.weight:
			return 1
		}
		return 0
	}), true
}
