package chart

import (
	"math"

	"rundown/analysis/rate"
)

// Data is what a chart against elapsed time shows, for those who draw it
// themselves: in the units of its axis, and in the range that its axis takes.
type Data struct {
	Label     string // of the axis, with the unit
	Unit      string
	Signed    bool    // values are written with a plus
	Low, High float64 // range of the axis
	Merged    int     // windows in one point
	Time      []float64
	X, SE     []float64 // of equal length with Time; a NaN of X breaks the curve
	Smoothed  []float64 // likewise, nil where there is no smoothed curve
}

// RateData is what Rate shows, in at most so many points.
func RateData(r Run, most int) Data { return rates.data(r, r.smoothed(), most) }

// PeriodData is what Period shows, likewise.
func PeriodData(r Run, most int) Data { return periods(r).data(r, nil, most) }

// AmplitudeData is what Amplitude shows, likewise.
func AmplitudeData(r Run, most int) Data {
	q, _ := amplitude(r.Kind)
	return q.data(r, nil, most)
}

// BeatErrorData is what BeatError shows, likewise.
func BeatErrorData(r Run, most int) Data { return beatErrors.data(r, nil, most) }

// breakTime is how long after its last point a curve breaks, in seconds.
const breakTime = 1e-3

// data lists the points of a quantity. Where there are too many, those that
// follow each other in a stretch are averaged.
func (q quantity) data(r Run, smooth series, most int) Data {
	s := figures(r.Windows, q.pick, r.Events)
	axis := q.span(s, smooth, r.band())
	d := Data{Label: q.label, Unit: q.unit, Signed: q.signed, Low: axis.lo, High: axis.hi, Merged: 1 + (s.len()-1)/max(most, 1)}
	curve := make(map[float64]float64, smooth.len())
	for _, stretch := range smooth {
		for _, p := range stretch {
			curve[p.t] = p.x
		}
	}
	for _, stretch := range s {
		for first := 0; first < len(stretch); first += d.Merged {
			d.add(stretch[first:min(first+d.Merged, len(stretch))], curve)
		}
		d.add(nil, curve)
	}
	if len(curve) == 0 {
		d.Smoothed = nil
	}
	return d
}

// add appends the mean of points that follow each other, or a break where
// there are none.
func (d *Data) add(ps []point, smoothed map[float64]float64) {
	var t, x, variance, curve float64
	for _, p := range ps {
		t, x, variance = t+p.t, x+p.x, variance+p.se*p.se
		if c, ok := smoothed[p.t]; ok {
			curve += c
		} else {
			curve = math.NaN()
		}
	}
	n := float64(len(ps))
	if n == 0 && len(d.Time) > 0 {
		t, n = d.Time[len(d.Time)-1]+breakTime, 1
		x, variance, curve = math.NaN(), math.NaN(), math.NaN()
	}
	d.Time, d.X, d.SE = append(d.Time, t/n), append(d.X, x/n), append(d.SE, math.Sqrt(variance)/n)
	d.Smoothed = append(d.Smoothed, curve/n)
}

// beatErrors is the beat error as a quantity.
var beatErrors = quantity{
	title: "Beat error against elapsed time", label: "beat error (ms)", unit: "ms",
	none: "no beat error was measured", signed: true, least: 0.1,
	pick: scaled(1e3, func(w rate.Window) rate.Value { return w.BeatError }),
}

// periods is the period of a run as a quantity.
func periods(r Run) quantity {
	return quantity{
		title: "Period against elapsed time", label: "period of two beats (ms)", unit: "ms",
		none:  "no period was measured",
		pick:  scaled(1e3, func(w rate.Window) rate.Value { return w.Period }),
		least: 1e3 * r.typicalPeriod() / day, // what a second a day comes to
		focus: true,
	}
}
