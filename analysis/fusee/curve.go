package fusee

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/interp"

	"rundown/analysis/drift"
	"rundown/dsp/stats"
)

// Curve is a smooth course with its errors: of the barrel's torque over the turns
// unwound, or of a rate or an amplitude over that torque. It is a cubic between its
// knots, as the smoothing spline is.
type Curve struct {
	x         []float64 // knots, growing
	estimates []drift.Estimate
	cubic     interp.PiecewiseCubic
	area      []float64 // under the curve, from the first knot to each
}

// NewCurve smooths figures at growing places. se holds their standard errors, up to a
// common factor; nil takes all of them as alike, and as large as they scatter. There must
// be two at the least.
func NewCurve(x, y, se []float64) *Curve {
	const exact = 1e-6 // of the mean size: as small an error as anything has
	size := 0.0
	for _, v := range y {
		size += math.Abs(v) / float64(len(y))
	}
	alike := max(exact*size, math.SmallestNonzeroFloat32)
	if se == nil {
		alike = max(alike, scatter(x, y))
	}
	obs := make([]drift.Observation, len(x))
	for i := range x {
		obs[i] = drift.Observation{Time: x[i], Value: y[i], SE: alike}
		if se != nil {
			obs[i].SE = max(obs[i].SE, se[i])
		}
	}
	c := &Curve{x: x, area: make([]float64, len(x))}
	if se == nil { // a spring bends most at its ends, where a table has nothing to tell that by
		c.estimates = drift.SmoothAll(obs)
	} else {
		c.estimates = drift.Smooth(obs, 0)
	}
	levels, slopes := make([]float64, len(x)), make([]float64, len(x))
	for i, e := range c.estimates {
		levels[i], slopes[i] = e.Level, e.Slope
	}
	c.cubic.FitWithDerivatives(x, levels, slopes)
	for i := 1; i < len(x); i++ {
		c.area[i] = c.area[i-1] + c.cell(x[i-1], x[i])
	}
	return c
}

// Start is the place of the first figure.
func (c *Curve) Start() float64 { return c.x[0] }

// End is the place of the last figure.
func (c *Curve) End() float64 { return c.x[len(c.x)-1] }

// At is the figure at a place from Start to End; beyond, it is that of the end.
func (c *Curve) At(x float64) float64 { return c.cubic.Predict(x) }

// Slope is how much the figure grows for one of the place.
func (c *Curve) Slope(x float64) float64 { return c.cubic.PredictDerivative(x) }

// Errors are the standard errors of figure and slope at a place.
func (c *Curve) Errors(x float64) (level, slope float64) {
	i, u := c.knotBefore(x)
	a, b := c.estimates[i], c.estimates[i+1]
	return a.LevelSE + u*(b.LevelSE-a.LevelSE), a.SlopeSE + u*(b.SlopeSE-a.SlopeSE)
}

// knotBefore returns the knot before x and the share of the way to the next one.
func (c *Curve) knotBefore(x float64) (i int, u float64) {
	i = min(max(sort.SearchFloat64s(c.x, x)-1, 0), len(c.x)-2)
	return i, min(max((x-c.x[i])/(c.x[i+1]-c.x[i]), 0), 1)
}

// Work is what the torque does from one turn to a later one, N·mm (a thousandth of
// a joule): its integral over the angle in radians.
func (c *Curve) Work(from, to float64) float64 {
	return 2 * math.Pi * (c.upTo(to) - c.upTo(from))
}

// upTo is the area under the curve from Start.
func (c *Curve) upTo(x float64) float64 {
	i, _ := c.knotBefore(x)
	return c.area[i] + c.cell(c.x[i], x)
}

// cell integrates within one cell, exactly.
func (c *Curve) cell(a, b float64) float64 { return integral(c.At, a, b) }

// Scatter is the root mean square of how far figures lie from the curve.
func (c *Curve) Scatter(x, y []float64) float64 {
	sum := 0.0
	for i := range x {
		sum += math.Pow(y[i]-c.At(x[i]), 2) / float64(len(x))
	}
	return math.Sqrt(sum)
}

// least is the smallest figure from one place to another, and where it is.
func (c *Curve) least(from, to float64) (value, at float64) {
	value = math.Inf(1)
	for i := range gridLines {
		x := from + (to-from)*float64(i)/(gridLines-1)
		if y := c.At(x); y < value {
			value, at = y, x
		}
	}
	return value, at
}

// meanError is the mean standard error from one place to another.
func (c *Curve) meanError(from, to float64) float64 {
	sum := 0.0
	for i := range gridLines {
		se, _ := c.Errors(from + (to-from)*float64(i)/(gridLines-1))
		sum += se / gridLines
	}
	return sum
}

// gridLines is on how many places a stretch is looked at.
const gridLines = 2001

// The Gauss-Legendre rule of four points between −1 and 1: exact for polynomials up to
// the seventh degree.
var gaussAt, gaussWeight = func() (at, weight [4]float64) {
	quad.Legendre{}.FixedLocations(at[:], weight[:], -1, 1)
	return at, weight
}()

// integral is that of a function that is smooth from a to b.
func integral(f func(float64) float64, a, b float64) float64 {
	sum := 0.0
	for i, at := range gaussAt {
		sum += gaussWeight[i] * f((a+b)/2+at*(b-a)/2)
	}
	return sum * (b - a) / 2
}

// scatter is the standard deviation of figures about a course that bends gently: from how
// far each lies from the cubic through its two neighbours on either side (after T. Gasser,
// L. Sroka and C. Jennen-Steinmetz, Biometrika 73, 1986, who take the line through one on
// either side), by the median, which a few wild ones and the sharp bends of a spring don't
// move. Of fewer than five figures it is 0.
func scatter(x, y []float64) float64 {
	var off []float64
	for i := 2; i+2 < len(x); i++ {
		around := []int{i - 2, i - 1, i + 1, i + 2}
		predicted, variance := 0.0, 1.0
		for _, k := range around {
			weight := 1.0 // Lagrange's, of the neighbour k at the place of i
			for _, m := range around {
				if m != k {
					weight *= (x[i] - x[m]) / (x[k] - x[m])
				}
			}
			predicted, variance = predicted+weight*y[k], variance+weight*weight
		}
		if o := math.Abs(y[i]-predicted) / math.Sqrt(variance); o <= most { // NaN where places all but coincide
			off = append(off, o)
		}
	}
	if off == nil {
		return 0
	}
	return stats.PerMedian * stats.Median(off)
}
