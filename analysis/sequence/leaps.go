package sequence

import "math"

// shape returns the mean of each place of a turn of period beats from increments
// d with scatter sd, without what leaps there for good, and sets doubt.
func (l *line) shape(d []float64, sd float64, period int64) []float64 {
	at := make([][]float64, period)
	for j, v := range d {
		if !math.IsNaN(v) {
			p := l.index[j] % period
			at[p] = append(at[p], v)
		}
	}
	const clip = 12 // in sd: all that a leap can weigh, and beats displaced alone
	rise := make([]float64, period)
	for p, all := range at {
		for _, v := range all {
			rise[p] += max(min(v, clip*sd), -clip*sd) / float64(len(all))
		}
	}
	lost := leaps(rise, sd*sd/2*float64(period)/float64(len(d)), l.price)
	l.doubt = make([]float64, period)
	for p, all := range at {
		switch near, far := split(all, 3.5*sd); {
		case len(all) < turns/2:
			lost[p] = true
		case twofold(near, far) || !lost[p] && near.n > far.n:
			rise[p], lost[p] = near.mean, false
			l.doubt[p] = math.Max(near.variance, far.variance) / near.n
		default:
			rise[p] = median(all)
			l.doubt[p] = math.Pi / 2 * 2 * sd * sd / float64(len(all)) // of a median
		}
	}
	shape := level(rise, lost)
	for p := range l.doubt {
		if lost[p] { // its own unevenness is not known apart from what leaps
			l.doubt[p] = 2 * meanSquare(shape)
		}
	}
	return shape
}

// group is what some values have in common.
type group struct{ n, mean, variance float64 }

// split returns what the values nearer to zero than limit have in common, and the
// magnitudes of those further off.
func split(values []float64, limit float64) (near, far group) {
	for _, v := range values {
		g := &near
		if math.Abs(v) > limit {
			g, v = &far, math.Abs(v)
		}
		g.n++
		g.mean += v
		g.variance += v * v
	}
	for _, g := range [2]*group{&near, &far} {
		g.mean /= math.Max(g.n, 1)
		g.variance = math.Max(g.variance/math.Max(g.n, 1)-g.mean*g.mean, 0)
	}
	return near, far
}

// twofold tells whether two groups are not one that was cut in two: the halves of
// a Gaussian, wherever it is cut, are no further apart than 2.5 times their
// scatter. A tooth that is uneven is so in every turn; one at which the movement
// hesitates in some turns is twofold.
func twofold(near, far group) bool {
	const apart = 3
	off := far.mean - math.Abs(near.mean)
	return near.n >= turns/2 && far.n >= turns/2 && near.n > far.n/20 && off*off > apart*apart*(near.variance+far.variance)
}

// leaps tells at which places of a turn the phase leaps for good, from the mean
// increments at each: a leap that comes every turn looks like a saw, which teeth
// that are uneven at random, or a wheel out of round, look like with a
// probability below exp(-price). noise is the variance that the scatter leaves to
// a place. Nothing leaps for good where leaps take each other back.
func leaps(rise []float64, noise, price float64) []bool {
	const several = 3
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

// takenBack tells whether the leaps of a turn add up to nothing: within six of
// their errors, or a twentieth of the largest.
func takenBack(rise []float64, lost []bool, noise float64) bool {
	base, n := 0., 0.
	for p, r := range rise {
		if !lost[p] {
			base += r
			n++
		}
	}
	base /= n
	sum, largest := 0., 0.
	for p, r := range rise {
		if lost[p] {
			sum += r - base
			largest = math.Max(largest, math.Abs(r-base))
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
