package calibrate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis/rate"
	"rundown/dsp/stats"
)

// Error is what a reference says of the recorder's clock.
type Error struct {
	// PPM is the mean error over the time in which the reference was heard,
	// parts per million, positive when the clock runs fast.
	PPM     rate.Value
	Drift   rate.Value // its change, ppm per hour
	Scatter float64    // standard deviation of a single mark about the fit, s
	// Correlation is by how much the scatter's being alike from mark to mark
	// widens the standard errors: 1 where it is independent.
	Correlation float64
	Span        float64 // time over which the reference was heard, s
	Used        int64   // marks
	hz          float64 // marks a second
}

// FewestMarks is how many marks it takes to say anything.
const FewestMarks = 10

// Measure fits a straight line and a parabola to the marks of a series. Both
// have the same slope in the middle, the mean error; the parabola gives the
// drift. Marks far off have no say, and marks after a break in the count start
// at a place of their own. X ± 1.96 SE holds the truth 95 times in 100 (see
// widening). The second result is false where there are fewer than FewestMarks.
func Measure(s *Series) (Error, bool) {
	marks, _ := s.clean()
	if len(marks) < FewestMarks {
		return Error{}, false
	}
	middle := (marks[0].t + marks[len(marks)-1].t) / 2
	half := (marks[len(marks)-1].t - marks[0].t) / 2
	f := fitParabola(marks, middle, half)
	if !(f.det > 0) || f.freedom < 3 {
		return Error{}, false
	}
	e := Error{Span: 2 * half, hz: 1 / s.period()}
	for _, m := range marks {
		e.Used += int64(m.n)
	}
	e.Scatter = math.Sqrt(f.variance)
	wide, freedom := widening(f.residuals)
	e.Correlation = wide
	student := distuv.StudentsT{Sigma: 1, Nu: min(f.freedom, freedom)}.Quantile(0.975) / stats.TwoSided
	unit := e.Scatter * wide * student
	// The line is over the recorder's time t: a clock that is fast by e has
	// x = t − t/(1+e), of which the slope is e/(1+e).
	slope := f.slope / half
	e.PPM = rate.Value{X: 1e6 * slope / (1 - slope), SE: 1e6 * unit * math.Sqrt(f.uu/f.det) / half}
	perHour := 1e6 * 2 * 3600 / (half * half)
	e.Drift = rate.Value{X: perHour * f.bend, SE: perHour * unit * math.Sqrt(f.zz/f.det)}
	return e, true
}

// Time returns for how long a reference such as this has to be recorded for an
// error of so many ppm, at two standard errors, s: the standard error of the
// slope of a line through N marks a time τ apart, scattering by σ, is
// σ/τ · √(12/N³).
func (e *Error) Time(ppm float64) float64 {
	unit := e.Scatter * e.Correlation
	return max(math.Cbrt(12*4*unit*unit/e.hz/(ppm*ppm*1e-12)), FewestMarks/e.hz)
}

// parabola is a weighted fit x = a + slope·z + bend·z², with an a for each
// stretch between breaks, over z from −1 to 1.
type parabola struct {
	slope, bend     float64
	zz, zu, uu, det float64   // the normal equations of slope and bend
	residuals       []float64 // each times the root of its weight
	variance        float64   // of one mark
	freedom         float64
}

func fitParabola(marks []mark, middle, half float64) parabola {
	var p parabola
	row := func(m mark) (z, u float64) {
		z = (m.t - middle) / half
		return z, z * z
	}
	// Each stretch is taken about its own means, which leaves its place out.
	var zx, ux float64
	stretches(marks, func(ms []mark) {
		c := means(ms, row)
		for _, m := range ms {
			z, u := row(m)
			z, u = z-c.z, u-c.u
			p.zz += m.n * z * z
			p.zu += m.n * z * u
			p.uu += m.n * u * u
			zx += m.n * z * (m.x - c.x)
			ux += m.n * u * (m.x - c.x)
		}
		p.freedom--
	})
	p.det = p.zz*p.uu - p.zu*p.zu
	p.slope = (p.uu*zx - p.zu*ux) / p.det
	p.bend = (p.zz*ux - p.zu*zx) / p.det
	p.freedom += float64(len(marks) - 2)
	squares := 0.0
	stretches(marks, func(ms []mark) {
		c := means(ms, row)
		for _, m := range ms {
			z, u := row(m)
			r := math.Sqrt(m.n) * (m.x - c.x - p.slope*(z-c.z) - p.bend*(u-c.u))
			p.residuals = append(p.residuals, r)
			squares += r * r
		}
	})
	p.variance = squares / p.freedom
	return p
}

// stretches calls do with the marks of each stretch between breaks.
func stretches(marks []mark, do func([]mark)) {
	start := 0
	for i := 1; i <= len(marks); i++ {
		if i == len(marks) || marks[i].fresh {
			do(marks[start:i])
			start = i
		}
	}
}

// centre is the weighted mean of a stretch.
type centre struct{ z, u, x float64 }

func means(ms []mark, row func(mark) (z, u float64)) centre {
	var c centre
	var n float64
	for _, m := range ms {
		z, u := row(m)
		n += m.n
		c.z += m.n * z
		c.u += m.n * u
		c.x += m.n * m.x
	}
	return centre{c.z / n, c.u / n, c.x / n}
}

// widening returns by which factor residuals that are alike from one to the
// next widen the error of a fit, 1 unless they are so beyond chance (1 in 100),
// and the degrees of freedom of that estimate. It takes the greater of two:
// that of a first-order autoregression, √((1+r)/(1−r)) with r the correlation
// of neighbours, which sees what is alike over a few marks; and the scatter of
// the means of 24 batches over what independent marks would have, which sees
// what is alike for longer.
func widening(r []float64) (factor, freedom float64) {
	const batches = 24
	factor, freedom = 1, math.Inf(1)
	n := float64(len(r))
	var lag, square float64
	for i, v := range r {
		square += v * v
		if i > 0 {
			lag += v * r[i-1]
		}
	}
	if square == 0 || len(r) < 4*batches {
		return factor, freedom
	}
	const rare = 2.326 // 99 % point of the Gaussian
	if c := lag/square + 3/n; c*math.Sqrt(n) > rare {
		factor = math.Sqrt((1 + c) / max(1-c, 1e-3))
	}
	// The parabola takes three degrees of freedom from the slow part.
	per, sum := len(r)/batches, 0.0
	for b := range batches {
		mean := 0.0
		for _, v := range r[b*per : (b+1)*per] {
			mean += v
		}
		sum += mean * mean / float64(per)
	}
	chi := distuv.ChiSquared{K: batches - 3}
	ratio := sum / (square / n)
	if wide := math.Sqrt(ratio / chi.K); ratio > chi.Quantile(0.99) && wide > factor {
		factor, freedom = wide, chi.K
	}
	return factor, freedom
}
