package rate

import "math"

// Deviation is a two-sample statistic of a series of phase values x, evenly
// spaced by tau0 seconds, at averaging factor m. It returns the deviation and
// the number of terms averaged; NaN and 0 where x is too short. Terms that need
// a missing value, NaN, are left out. All are O(len(x)) and follow W. J. Riley,
// Handbook of Frequency Stability Analysis, NIST Special Publication 1065
// (2008), section 5.2. They panic where m is not positive.
type Deviation func(x []float64, tau0 float64, m int) (sigma float64, terms int)

// OverlappingAllan returns the Allan deviation of all averages, the usual
// estimate.
func OverlappingAllan(x []float64, tau0 float64, m int) (float64, int) {
	check(m)
	sum, n := 0., 0
	for i := 0; i+2*m < len(x); i++ {
		if d := x[i+2*m] - 2*x[i+m] + x[i]; !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum/float64(n)/2) / (float64(m) * tau0), n
}

// ModifiedAllan returns the modified Allan deviation, of phase averaged over m
// values: it tells white from flicker phase noise.
func ModifiedAllan(x []float64, tau0 float64, m int) (float64, int) {
	check(m)
	// The sum over m second differences moves on by one at a time. It is taken
	// afresh now and then, so that rounding does not pile up.
	const afresh = 1 << 10
	second := func(i int) float64 { return x[i+2*m] - 2*x[i+m] + x[i] }
	var inner, sum float64
	missing, n := 0, 0
	add := func(i int, sign float64) {
		if d := second(i); math.IsNaN(d) {
			missing += int(sign)
		} else {
			inner += sign * d
		}
	}
	for i := 0; i+3*m <= len(x); i++ {
		if i%max(afresh, m) == 0 {
			inner, missing = 0, 0
			for k := i; k < i+m; k++ {
				add(k, 1)
			}
		} else {
			add(i-1, -1)
			add(i+m-1, 1)
		}
		if missing == 0 {
			sum += inner * inner
			n++
		}
	}
	mm := float64(m)
	return math.Sqrt(sum/float64(n)/2) / (mm * mm * tau0), n
}

// TimeDeviation returns the time deviation in seconds: τ/√3 times the modified
// Allan deviation.
func TimeDeviation(x []float64, tau0 float64, m int) (float64, int) {
	sigma, n := ModifiedAllan(x, tau0, m)
	return sigma * float64(m) * tau0 / math.Sqrt(3), n
}

func check(m int) {
	if m < 1 {
		panic("rate: averaging factor below 1")
	}
}
