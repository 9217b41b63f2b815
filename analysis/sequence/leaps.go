package sequence

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// roughly returns the mean of each place of a turn of period beats from increments
// d with scatter sd, without what leaps there for good, and sets doubt.
func (l *line) roughly(d []float64, sd float64, period int64) []float64 {
	at := make([][]float64, period)
	for j, v := range d {
		if !math.IsNaN(v) {
			p := l.index[j] % period
			at[p] = append(at[p], v)
		}
	}
	const clip = 12 // in sd: what a beat can weigh that is not like most
	rise := make([]float64, period)
	for p, all := range at {
		for _, v := range all {
			rise[p] += max(min(v, clip*sd), -clip*sd) / float64(len(all))
		}
		if m := median(all); math.Abs(m) > clip*sd {
			rise[p] = m
		}
	}
	lost := leaps(rise, sd*sd/2*float64(period)/float64(len(d)), l.price)
	for p, all := range at {
		near, far := split(all)
		switch {
		case len(all) < turns/2:
			lost[p] = true
		case twofold(near, far):
			rise[p], lost[p] = near.mean, false
		default:
			rise[p] = middle(all, 3*sd)
		}
	}
	return level(rise, lost)
}

// middle returns the mean of the values no further than limit from their median.
func middle(values []float64, limit float64) float64 {
	m, sum, n := median(values), 0., 0.
	for _, v := range values {
		if math.Abs(v-m) <= limit {
			sum += v
			n++
		}
	}
	return sum / n
}

// group is what some values have in common.
type group struct{ n, mean, variance float64 }

func (g *group) add(v, n float64) {
	g.n += n
	d := v - g.mean
	g.mean += n * d / math.Max(g.n, 1)
	g.variance += n * d * (v - g.mean) // for now, times n
}

// split sorts values and returns the two groups of them that differ most for
// their size (N. Otsu, IEEE Transactions on Systems, Man, and Cybernetics 9,
// 1979); near is the one nearer to zero.
func split(values []float64) (near, far group) {
	slices.Sort(values)
	var low, high group
	for _, v := range values {
		high.add(v, 1)
	}
	top := math.Inf(-1)
	for _, v := range values {
		low.add(v, 1)
		high.add(v, -1)
		if between := low.n * high.n * (low.mean - high.mean) * (low.mean - high.mean); between > top {
			top, near, far = between, low, high
		}
	}
	near.variance /= math.Max(near.n, 1)
	far.variance /= math.Max(far.n, 1)
	if math.Abs(far.mean) < math.Abs(near.mean) {
		near, far = far, near
	}
	return near, far
}

// twofold tells whether two groups are not one that was cut in two. A tooth that
// is uneven is so in every turn; one at which the movement hesitates in some turns
// is twofold. The halves of a Gaussian are further apart in one of ten thousand
// cases, whatever the number of values (TestTwofold); of less than two for each
// turn that has to be heard, nothing is said.
func twofold(near, far group) bool {
	const alike = 6 // times the variance, at most: what is displaced alone scatters more
	n := near.n + far.n
	few, apart := math.Max(turns/2, n/20), 2.2+65/n
	off := far.mean - near.mean
	return n >= 2*turns && near.n >= few && far.n >= few && far.variance < alike*near.variance && off*off > apart*apart*(near.variance+far.variance)
}

// leaps tells at which places of a turn the phase leaps for good, from the mean
// increments at each: a leap that comes every turn looks like a saw, which teeth
// that are uneven at random, or a wheel out of round, look like with a
// probability below exp(-price). noise is the variance that the scatter leaves to
// a place. Nothing leaps for good where leaps take each other back.
func leaps(rise []float64, noise, price float64) []bool {
	const several = 3 // leaps in a turn, at most
	lost := make([]bool, len(rise))
	whole := level(rise, lost)
	limit := math.Min(meanSquare(whole), withoutWave(whole)) + noise
	for range several {
		best, top := 0, math.Inf(1)
		for p := range rise {
			if !lost[p] {
				lost[p] = true
				if v := meanSquare(level(rise, lost)) + noise; v < top {
					best, top = p, v
				}
				lost[p] = false
			}
		}
		if !(float64(len(rise))/2*math.Log(limit/top) > price) {
			break
		}
		lost[best], limit = true, top
	}
	if takenBack(rise, lost, noise) {
		clear(lost)
	}
	return lost
}

// saws reports whether the phase leaps for good at some place of the teeth that were
// fitted.
func (l *line) saws() bool {
	n := len(l.shape)
	rise := make([]float64, n)
	for p := range rise {
		rise[p] = l.shape[p] - l.shape[(p+n-1)%n]
	}
	return slices.Contains(leaps(rise, 2*mat.Trace(l.cov)/float64(n), l.price), true)
}

// takenBack tells whether the leaps of a turn, and what else in it is a quarter as
// large as the largest, add up to nothing: within six of their errors, or a
// twentieth of the largest.
func takenBack(rise []float64, lost []bool, noise float64) bool {
	var others []float64
	for p, r := range rise {
		if !lost[p] {
			others = append(others, r)
		}
	}
	base, largest, sum := median(others), 0., 0.
	for p, r := range rise {
		if lost[p] {
			largest = math.Max(largest, math.Abs(r-base))
		}
	}
	for p, r := range rise {
		if lost[p] || math.Abs(r-base) > largest/4 {
			sum += r - base
		}
	}
	return sum*sum < 36*noise+largest*largest/400
}

func meanSquare(x []float64) float64 {
	sum := 0.
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(len(x))
}

// withoutWave returns the mean square of a shape without the sine that fits it
// best in a turn.
func withoutWave(x []float64) float64 {
	c, s, n := 0., 0., float64(len(x))
	for i, v := range x {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		c += v * cos
		s += v * sin
	}
	return meanSquare(x) - 2*(c*c+s*s)/(n*n)
}

// level sums the rises up to a shape that ends where it began, with a mean of 0;
// the rise of places that are left out is that of the mean of the others.
func level(rise []float64, without []bool) []float64 {
	mean, n := 0., 0.
	for i, r := range rise {
		if !without[i] {
			mean += r
			n++
		}
	}
	mean /= math.Max(n, 1)
	shape := make([]float64, len(rise))
	sum, all := 0., 0.
	for i, r := range rise {
		if !without[i] {
			sum += r - mean
		}
		shape[i] = sum
		all += sum / float64(len(rise))
	}
	for i := range shape {
		shape[i] -= all
	}
	return shape
}
