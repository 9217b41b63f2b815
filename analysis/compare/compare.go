package compare

import (
	"fmt"

	"rundown/analysis"
	"rundown/analysis/runs"
)

// Runs compares two runs at a tolerance of the stable band in seconds a day; 0
// takes that of the run before, or else of the one after. Where the runs must
// not be compared as if alike it returns an error of one line that says what to
// do. Windows of the runs may be joined to a common width.
func Runs(before, after *runs.Run, by Alignment, tolerance float64) (*Comparison, error) {
	notes, err := makeAlike(before, after)
	if err != nil {
		return nil, err
	}
	tolerance, note := commonTolerance(before, after, tolerance)
	notes = append(notes, note...)
	c := &comparer{over: inCommon, tolerance: tolerance}
	if by == Amplitude {
		c.over = likeSwings
	}
	if c.pairs, err = pairs(before, after, by); err != nil {
		return nil, err
	}
	c.before, c.after = temper(before, after, c.pairs)
	c.rates = pairUp(c.before, c.after, c.pairs, rateOf)
	c.models = c.rates.difference.levels()
	out := &Comparison{
		Schema: Schema, Before: side(before, tolerance), After: side(after, tolerance), Alignment: by,
		Metrics: c.metrics(), Notes: append([]string{}, notes...), Differences: c.differences(),
	}
	decide(out.Metrics)
	out.Headline = headline(out.Metrics)
	return out, nil
}

// Tolerance is the total width of the stable band where nothing says another,
// seconds a day.
const Tolerance = 10

// commonTolerance settles the tolerance at which both stable bands are found.
func commonTolerance(before, after *runs.Run, given float64) (float64, []string) {
	a, b := before.Summary.StableBand.Tolerance, after.Summary.StableBand.Tolerance
	switch {
	case given > 0:
		return given, nil
	case a.Known() && b.Known() && a != b:
		return float64(a), []string{fmt.Sprintf("Both stable bands were found anew within %g s/day, that of the run before.", float64(a))}
	case a.Known():
		return float64(a), nil
	case b.Known():
		return float64(b), nil
	}
	return Tolerance, nil
}

func side(r *runs.Run, tolerance float64) Side {
	rec := r.Summary.Recording
	return Side{
		Path: r.Path, SampleRate: rec.SampleRate, Duration: rec.Duration, ClockPPM: rec.ClockPPM, ClockVerified: rec.ClockVerified,
		Nominal: r.Summary.Beat.Nominal, Window: analysis.Number(r.Width()), Tolerance: analysis.Number(tolerance),
	}
}

// differences is the difference of the rates freed from the noise of the
// measurement, by the likeliest model.
func (c *comparer) differences() []Difference {
	best, ok := likeliest(c.models)
	if !ok {
		return nil
	}
	s := &c.rates.difference
	x, se := s.smooth(best)
	ds := make([]Difference, len(x))
	for i := range x {
		ds[i] = Difference{Time: s.t[i], Rate: x[i], SE: se[i]}
	}
	return ds
}
