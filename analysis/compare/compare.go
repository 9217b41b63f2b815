package compare

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// Options are the settings of a comparison.
type Options struct {
	By        Alignment // empty for Elapsed
	Tolerance float64   // of the stable band, s/day; 0 takes that of the first run that has one
	For       string    // name of the figure that the change was made for; empty for none
}

// Runs compares the runs before a change with those after it, at least one of
// either. Where the runs must not be compared as if alike it returns an error of
// one line that says what to do. Windows of the runs may be joined to a common
// width.
func Runs(before, after []*runs.Run, opt Options) (*Comparison, error) {
	all := slices.Concat(before, after)
	notes, err := harmonise(all)
	if err != nil {
		return nil, err
	}
	tolerance, note := commonTolerance(all, opt.Tolerance)
	notes = append(append(notes, note...), otherwise(before, after)...)
	if opt.By == "" {
		opt.By = Elapsed
	}
	c := &comparer{over: inCommon, tolerance: tolerance, first: len(before)}
	if opt.By == Amplitude {
		c.over = likeSwings
	}
	if c.rows, err = match(all, opt.By); err != nil {
		return nil, err
	}
	c.all = c.limitOutliers(all)
	c.rates = c.columns(rateOf).difference
	c.models = c.rates.Levels()
	out := &Comparison{
		Schema: Schema, Before: side(before[0], tolerance), After: side(after[0], tolerance),
		Alignment: opt.By, Metrics: c.metrics(), Notes: append([]string{}, notes...), Differences: c.differences(),
	}
	for _, r := range before {
		out.BeforeRuns = append(out.BeforeRuns, side(r, tolerance))
	}
	for _, r := range after {
		out.AfterRuns = append(out.AfterRuns, side(r, tolerance))
	}
	if err := decide(out.Metrics, opt.For); err != nil {
		return nil, err
	}
	if out.Repeated() {
		out.widen()
	}
	out.Headline = headline(out.Metrics, out.Repeated())
	out.Repeats = repeats(out.Metrics, len(before), len(after))
	return out, nil
}

// widen lets what runs of one state differ by into the errors of the course of the
// difference: there it is as large as in the mean rate.
func (c *Comparison) widen() {
	m := &c.Metrics[0]
	if sd := float64(m.High-m.Low) / (2 * distuv.UnitNormal.Quantile(0.975)); m.PValue.Known() {
		for i := range c.Differences {
			c.Differences[i].SE = math.Hypot(c.Differences[i].SE, sd)
		}
	}
}

// Tolerance is the total width of the stable band where nothing says another,
// seconds a day.
const Tolerance = 10

// commonTolerance settles the tolerance at which all stable bands are found.
func commonTolerance(all []*runs.Run, given float64) (float64, []string) {
	if given > 0 {
		return given, nil
	}
	found := analysis.None()
	for _, r := range all {
		switch t := r.Summary.StableBand.Tolerance; {
		case !t.Known():
		case !found.Known():
			found = t
		case t != found:
			return float64(found), []string{fmt.Sprintf("All stable bands were found anew within %g s/day, that of the first run.", float64(found))}
		}
	}
	if found.Known() {
		return float64(found), nil
	}
	return Tolerance, nil
}

func side(r *runs.Run, tolerance float64) Side {
	rec := r.Summary.Recording
	return Side{
		Path: r.Path, Notes: r.Summary.Notes, SampleRate: rec.SampleRate, Duration: rec.Duration, ClockPPM: rec.ClockPPM, ClockVerified: rec.ClockVerified,
		Nominal: r.Summary.Beat.Nominal, Window: analysis.Number(r.Width()), Tolerance: analysis.Number(tolerance),
	}
}

// differences is the difference of the rates freed from the noise of the
// measurement, by the likeliest model.
func (c *comparer) differences() []Difference {
	best, ok := stats.Likeliest(c.models)
	if !ok {
		return nil
	}
	s := &c.rates
	x, se := s.Smooth(best)
	ds := make([]Difference, len(x))
	for i := range x {
		ds[i] = Difference{Time: s.T[i], Rate: x[i], SE: se[i]}
	}
	return ds
}

// limitOutliers returns copies of the runs in which the rate of a window that stands
// alone, far from what the windows around it say, has an error to match: a steep
// hour with an event in it is known less well than its fit can tell. Of which
// run it is cannot be said, so the windows of all get it.
func (c *comparer) limitOutliers(all []*runs.Run) []*runs.Run {
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
