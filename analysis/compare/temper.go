package compare

import (
	"math"
	"slices"

	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// temper returns copies of the runs in which the rate of a window that stands
// alone, far from what the windows around it say, has an error to match: a steep
// hour with an event in it is known less well than its fit can tell. Of which
// run it is cannot be said, so the windows of all get it.
func (c *comparer) temper(all []*runs.Run) []*runs.Run {
	const far = 3 // standard errors
	c.all = all
	s := c.columns(rateOf).difference
	tempered := make([]*runs.Run, len(all))
	for k, r := range all {
		copied := *r
		copied.Windows = slices.Clone(r.Windows)
		tempered[k] = &copied
	}
	best, ok := stats.Likeliest(s.Levels())
	if !ok {
		return tempered
	}
	smooth, _ := s.Smooth(best)
	at := 0
	for _, row := range c.rows {
		w := &all[0].Windows[row.window]
		if at == s.Len() || s.T[at] != (w.Start+w.End)/2 {
			continue
		}
		off := math.Abs(s.Y[at]-smooth[at]) / math.Sqrt(best.Noise*s.Variance(at))
		at++
		if off <= far {
			continue
		}
		for k, p := range row.at {
			ws := tempered[k].Windows
			ws[p.window].Rate.SE *= off
			if p.share > 0 {
				ws[p.window+1].Rate.SE *= off
			}
		}
	}
	return tempered
}
