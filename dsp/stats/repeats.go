package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Groups is what repeated figures of two states tell of the difference of their
// means.
type Groups struct {
	SD      float64 // of a figure within its state, pooled over both; NaN without repeats
	SE      float64 // of the difference of the means; NaN without repeats
	Freedom float64 // degrees of freedom of both, 0 without repeats
}

// Pool pools the scatter of two samples, which may be unlike in number (Student,
// Biometrika 6, 1908; R. A. Fisher, Metron 5, 1925). It panics where one of them
// is empty.
func Pool(a, b []float64) Groups {
	if len(a) == 0 || len(b) == 0 {
		panic("stats: Pool of nothing")
	}
	freedom := float64(len(a) + len(b) - 2)
	if freedom == 0 {
		return Groups{math.NaN(), math.NaN(), 0}
	}
	sd := Within([][]float64{a, b})
	return Groups{sd, sd * math.Sqrt(1/float64(len(a))+1/float64(len(b))), freedom}
}

// squares is the sum of squares about the mean.
func squares(x []float64) float64 {
	mean, sum := Mean(x), 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum
}

// Mean returns the mean of x, NaN of nothing.
func Mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// Doubt is the distribution of the error of the difference.
func (g Groups) Doubt() Mixture { return Mixture{{1, 0, g.SE, g.Freedom}} }

// Power returns how probably a two-sided test at level alpha shows a true
// difference of so many standard deviations of a figure between two samples of n
// each: Student's distribution off its centre, as the mean over the scatter that
// may be found.
func Power(difference float64, n int, alpha float64) float64 {
	const steps = 400
	freedom := float64(2*n - 2)
	limit := distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(1 - alpha/2)
	off := math.Abs(difference) * math.Sqrt(float64(n)/2)
	chi := distuv.ChiSquared{K: freedom}
	power := 0.0
	for i := range steps {
		scale := math.Sqrt(chi.Quantile((float64(i)+0.5)/steps) / freedom)
		power += distuv.UnitNormal.Survival(limit*scale-off) + distuv.UnitNormal.CDF(-limit*scale-off)
	}
	return power / steps
}

// Repeats returns the least number of figures in either sample, from 2 to most,
// that show a true difference of so many standard deviations of a figure with
// the given power; 0 where most are too few.
func Repeats(difference, alpha, power float64, most int) int {
	if !(Power(difference, most, alpha) >= power) {
		return 0
	}
	low, high := 1, most
	for high-low > 1 {
		if mid := (low + high) / 2; Power(difference, mid, alpha) >= power {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// Holm tells which of many hypotheses are rejected so that one that is true is
// among them with a probability of at most alpha, whatever the others are and
// however they hang together (S. Holm, Scandinavian Journal of Statistics 6,
// 1979). A NaN probability is no hypothesis. weights are the shares of alpha, of
// any sum; those of figures that matter more are larger.
func Holm(p, weights []float64, alpha float64) []bool {
	rejected := make([]bool, len(p))
	for {
		left, first := 0.0, -1
		for i := range p {
			if rejected[i] || math.IsNaN(p[i]) {
				continue
			}
			left += weights[i]
			if first < 0 || p[i]*weights[first] < p[first]*weights[i] {
				first = i
			}
		}
		if first < 0 || p[first] > alpha*weights[first]/left {
			return rejected
		}
		rejected[first] = true
	}
}

// Within returns the standard deviation of figures within their samples, pooled
// over all of them; NaN where none has two.
func Within(samples [][]float64) float64 {
	sum, freedom := 0.0, 0
	for _, x := range samples {
		if len(x) > 1 {
			sum += squares(x)
			freedom += len(x) - 1
		}
	}
	return math.Sqrt(sum / float64(freedom))
}
