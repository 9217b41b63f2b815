package fusee

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/wavio"
)

// none is a figure that could not be had.
var none = rate.Value{X: math.NaN(), SE: math.NaN()}

// Drive is what a run did over the turns of its barrel: its steady windows, in order.
// The barrel is taken to have been at full wind at the first beat.
type Drive struct {
	HoursPerTurn float64 // of the barrel
	Degrees      bool    // the amplitudes are degrees, else relative; false too where there are none
	points       []point
	width        float64 // of a window, turns
}

// point is one window.
type point struct {
	turn      float64    // of the barrel unwound at its middle
	rate      rate.Value // s/day
	smoothed  float64    // s/day
	amplitude rate.Value // degrees, or relative to an unknown unit
}

// NewDrive reads a run. hours is how long the barrel takes for a turn; 0 takes it
// from the train that the run was analysed with. Turns are counted by beats.
func NewDrive(r *runs.Run, hours float64) (*Drive, error) {
	if b := r.Summary.Barrel; hours == 0 && b != nil {
		hours = float64(b.Turn) / 3600
	}
	if !(hours > 0) {
		return nil, naming(r.Path, errors.New("it does not say how long the barrel takes for a turn; give --hours-per-turn, or analyse the recording with --train"))
	}
	perTurn := hours * float64(r.Summary.Beat.Nominal)
	d := &Drive{HoursPerTurn: hours, Degrees: r.Kind == rate.Degrees, width: r.Width() / 3600 / hours}
	beats := 0
	for _, w := range r.Windows {
		turn := (float64(beats) + float64(w.Beats)/2) / perTurn
		beats += w.Beats
		steady := w.Heard > 0 && 2*w.Heard >= w.Beats && !w.Stopped
		if steady && !math.IsNaN(w.Smoothed.X) && !math.IsNaN(w.Rate.SE) {
			d.points = append(d.points, point{turn, w.Rate, w.Smoothed.X, swing(w, r.Kind)})
		}
	}
	if len(d.points) < fewestRows {
		return nil, naming(r.Path, fmt.Errorf("%d steady windows are too few; analyse the recording with a shorter --window", len(d.points)))
	}
	return d, nil
}

// swing is the amplitude of a window: degrees as they are; of a lift time, what a
// free balance has in a unit that the lift angle would give, since the amplitude is
// half of that angle over sin(π lift / period). A level tells of none.
func swing(w rate.Window, kind rate.AmplitudeKind) rate.Value {
	switch kind {
	case rate.Degrees:
		return w.Amplitude
	case rate.LiftTime:
		phase := math.Pi * w.Amplitude.X / w.Period.X
		return rate.Value{X: 1 / math.Sin(phase), SE: math.Cos(phase) / math.Pow(math.Sin(phase), 2) * math.Pi * w.Amplitude.SE / w.Period.X}
	}
	return none
}

// Proxy makes a torque curve of the run's amplitude, in % of its greatest: torque goes
// as the amplitude to the power of exponent. In each swing, solid friction takes an
// energy that grows as the amplitude, and the air, while it flows smoothly, one that
// grows as its square; torque replaces what is taken, so that the exponent lies
// between 1 and 2.
func (d *Drive) Proxy(exponent float64) (*Curve, error) {
	known := slices.DeleteFunc(slices.Clone(d.points), func(p point) bool {
		return !(p.amplitude.X > 0) || !(p.amplitude.SE >= 0) || math.IsInf(p.amplitude.X, 0)
	})
	x, y, se := grouped(known, func(p point) (float64, rate.Value) { return p.turn, p.amplitude })
	if len(x) < fewestRows {
		return nil, errors.New("no amplitude was measured in it to stand in for the torque; give --torque")
	}
	top := slices.Max(y)
	for i := range y {
		relative := y[i] / top
		y[i] = 100 * math.Pow(relative, exponent)
		se[i] = exponent * y[i] * se[i] / (relative * top)
	}
	c := NewCurve(x, y, se)
	if c.At(c.End()) >= c.At(c.Start()) {
		return nil, errors.New("its amplitude does not fall from beginning to end, so that it cannot stand in for the torque; give --torque")
	}
	return c, nil
}

// mostGroups is into how many groups of neighbours points are averaged before they are
// smoothed.
const mostGroups = 200

// grouped averages a figure over groups of points of about the same size, which are
// in order of their place, and lists places, means and standard errors.
func grouped(points []point, pick func(point) (float64, rate.Value)) (x, y, se []float64) {
	if len(points) == 0 {
		return nil, nil, nil
	}
	for group := range slices.Chunk(points, 1+(len(points)-1)/mostGroups) {
		var place, sum, variance float64
		n := float64(len(group))
		for _, p := range group {
			at, v := pick(p)
			place, sum, variance = place+at/n, sum+v.X/n, variance+v.SE*v.SE/(n*n)
		}
		if k := len(x); k == 0 || place > x[k-1] {
			x, y, se = append(x, place), append(y, sum), append(se, math.Sqrt(variance))
		}
	}
	return x, y, se
}

// smoothed is the smoothed rate at a turn, NaN where no window is near.
func (d *Drive) smoothed(turn float64) float64 {
	i, _ := slices.BinarySearchFunc(d.points, turn, func(p point, t float64) int { return cmp.Compare(p.turn, t) })
	switch {
	case i == 0 || i == len(d.points):
		if p := d.points[min(i, len(d.points)-1)]; math.Abs(p.turn-turn) <= d.width {
			return p.smoothed
		}
		return math.NaN()
	case d.points[i].turn-d.points[i-1].turn > 2*d.width:
		return math.NaN()
	}
	a, b := d.points[i-1], d.points[i]
	return a.smoothed + (turn-a.turn)/(b.turn-a.turn)*(b.smoothed-a.smoothed)
}

// mean is the mean rate from one turn to another, with the error of the measurement.
func (d *Drive) mean(from, to float64) rate.Value {
	var sum, variance, n float64
	for _, p := range d.points {
		if p.turn >= from && p.turn <= to {
			sum, variance, n = sum+p.smoothed, variance+p.rate.SE*p.rate.SE, n+1
		}
	}
	if n == 0 {
		return none
	}
	return rate.Value{X: sum / n, SE: math.Sqrt(variance) / n}
}

// naming is an error with the name of the file or folder that it is about.
func naming(path string, err error) error {
	return fmt.Errorf("%s: %w", wavio.OneLine(path), err)
}
