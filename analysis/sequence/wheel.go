package sequence

import "math"

// lilt finds by how much tocks come later than ticks against an even beat, slowly
// changing, from each beat and its two neighbours of the other side.
func (l *line) lilt() []float64 {
	const wide = 16 // beats from one neighbour to the other, at most
	n := len(l.raw)
	m := make([]float64, n)
	for j := range m {
		m[j] = math.NaN()
		if j == 0 || j+1 >= n || l.side[j-1] != l.side[j+1] || l.side[j] == l.side[j-1] || l.index[j+1]-l.index[j-1] > wide ||
			l.step[j] || l.step[j+1] || l.out[j-1] || l.out[j] || l.out[j+1] {
			continue
		}
		a, b := float64(l.index[j]-l.index[j-1]), float64(l.index[j+1]-l.index[j])
		at := func(i int) float64 { return l.raw[i] - l.teeth[i] }
		m[j] = at(j) - (at(j-1)*b+at(j+1)*a)/(a+b)
		if l.side[j] == 0 {
			m[j] = -m[j]
		}
	}
	c := slow(m)
	for j := range c {
		if math.IsNaN(c[j]) {
			c[j] = 0
		}
		c[j] /= 2
		if l.side[j] == 0 {
			c[j] = -c[j]
		}
	}
	return c
}

const (
	fewest, most = 12, 128 // beats in a turn of an escape wheel
	turns        = 6       // that a wheel has to be heard for
)

// wheel finds what comes round with the escape wheel without losing time: the
// mean of each place, or zeros where nothing comes round. Ticks come earlier and
// tocks later by lilt.
func (l *line) wheel(lilt []float64) {
	clear(l.teeth)
	d, all := make([]float64, len(l.raw)), make([]float64, 0, len(l.raw))
	for j := range d {
		d[j] = math.NaN()
		if j > 0 && l.gap[j] == 1 && !l.step[j] && !l.out[j] && !l.out[j-1] {
			d[j] = l.raw[j] - lilt[j] - l.raw[j-1] + lilt[j-1]
		}
	}
	for j, c := range slow(d) {
		if d[j] -= c; !math.IsNaN(d[j]) {
			all = append(all, d[j])
		}
	}
	sd := mad(all, 0)
	if len(all) < turns*fewest || sd == 0 {
		return
	}
	if l.period == 0 {
		l.period = l.comesRound(d, sd)
	} else if _, sure := l.evidence(d, sd, l.period); !sure {
		l.period = 0
	}
	if l.period == 0 {
		return
	}
	shape := l.shape(d, sd, l.period)
	for j := range l.teeth {
		l.teeth[j] = shape[l.index[j]%l.period]
	}
}

// comesRound returns the number of beats after which the increments d, with
// scatter sd, repeat, or 0. Between turns of different length, the Bayesian
// information criterion decides (G. Schwarz, Annals of Statistics 6, 1978).
func (l *line) comesRound(d []float64, sd float64) int64 {
	best, top := int64(0), math.Inf(-1)
	for p := int64(fewest); p <= most && p*turns <= int64(len(d)); p += 2 {
		chi, sure := l.evidence(d, sd, p)
		if v := chi - float64(p)*math.Log(float64(len(d))); sure && v > top {
			best, top = p, v
		}
	}
	return best
}

// evidence returns the sum of squares of the means of the increments d, with
// scatter sd, at each place of a turn of p beats, over their variances; and
// whether they differ for sure. Neighbours share a beat: by chance, the sum has
// the mean p and the variance 3p.
func (l *line) evidence(d []float64, sd float64, p int64) (chi float64, sure bool) {
	const (
		clip   = 4 // in sd, so that no single beat decides
		beyond = 8 // standard deviations
	)
	var sum, count [most]float64
	last, phase := int64(0), int64(0)
	for j, v := range d {
		phase += l.index[j] - last
		last = l.index[j]
		if phase >= p {
			phase %= p
		}
		if v == v {
			sum[phase] += max(min(v, clip*sd), -clip*sd)
			count[phase]++
		}
	}
	places := 0.
	for i, n := range count[:p] {
		if n > 0 {
			chi += sum[i] * sum[i] / (n * sd * sd)
			places++
		}
	}
	return chi, chi > places+beyond*math.Sqrt(3*places)
}

// shape returns the mean of each place of a turn of period beats from increments
// d with scatter sd, without what leaps there for good.
func (l *line) shape(d []float64, sd float64, period int64) []float64 {
	at := make([][]float64, period)
	for j, v := range d {
		if !math.IsNaN(v) {
			p := l.index[j] % period
			at[p] = append(at[p], v)
		}
	}
	l.doubt = make([]float64, period)
	rise, noise := make([]float64, period), sd*sd/2/(float64(len(d))/float64(period))
	for p, all := range at {
		for _, v := range all {
			rise[p] += max(min(v, 12*sd), -12*sd) / float64(len(all))
		}
	}
	lost := leaps(rise, noise, l.price)
	for p, all := range at {
		near, far := split(all, 3.5*sd)
		two := near.n >= max(3, 0.05*float64(len(all))) && far.n >= 3 && far.mean-math.Abs(near.mean) > 3*math.Hypot(near.sd, far.sd)
		switch {
		case len(all) < turns/2:
			lost[p] = true
		case two || !lost[p] && near.n > far.n:
			rise[p], lost[p] = near.mean, false
			l.doubt[p] = math.Max(near.sd*near.sd, far.sd*far.sd) / near.n
		default:
			rise[p] = median(all)
			l.doubt[p] = 2.5 * sd * sd / float64(len(all))
		}
	}
	shape := level(rise, lost)
	for p := range l.doubt {
		if lost[p] {
			l.doubt[p] = 2 * variance(shape)
		}
	}
	return shape
}

// group is what some values have in common.
type group struct{ n, mean, sd float64 }

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
		g.sd += v * v
	}
	for _, g := range []*group{&near, &far} {
		g.mean /= math.Max(g.n, 1)
		g.sd = math.Sqrt(math.Max(g.sd/math.Max(g.n, 1)-g.mean*g.mean, 0))
	}
	return near, far
}

// leaps tells at which places of a turn the phase leaps for good, from the mean
// increments at each: a leap that comes every turn looks like a saw, which teeth
// that are uneven at random, or a wheel out of round, make with a probability
// below exp(-price). noise is the variance that the scatter leaves to a place.
func leaps(rise []float64, noise, price float64) []bool {
	lost := make([]bool, len(rise))
	n := float64(len(rise))
	spread := func() float64 { return variance(level(rise, lost)) + noise }
	now := spread()
	limit := math.Min(now, spread1(level(rise, lost))+noise)
	for range 3 {
		best, top := -1, math.Inf(1)
		for p := range rise {
			if lost[p] {
				continue
			}
			lost[p] = true
			if v := spread(); v < top {
				best, top = p, v
			}
			lost[p] = false
		}
		if !(n/2*math.Log(limit/top) > price) {
			break
		}
		lost[best] = true
		limit = top
	}
	sum, size := 0., 0.
	base := 0.
	m := 0.
	for p, r := range rise {
		if !lost[p] {
			base += r
			m++
		}
	}
	base /= m
	for p, r := range rise {
		if lost[p] {
			sum += r - base
			size = math.Max(size, math.Abs(r-base))
		}
	}
	if sum*sum < 36*noise+0.0025*size*size {
		clear(lost)
	}
	return lost
}

func variance(x []float64) float64 {
	sum := 0.
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(len(x))
}

// spread1 is the variance without the first harmonic.
func spread1(x []float64) float64 {
	c, s := 0., 0.
	n := float64(len(x))
	for i, v := range x {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		c += v * cos
		s += v * sin
	}
	return variance(x) - 2*(c*c+s*s)/(n*n)
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
	out := make([]float64, len(rise))
	sum, all := 0., 0.
	for i, r := range rise {
		if !without[i] {
			sum += r - mean
		}
		out[i] = sum
		all += sum / float64(len(rise))
	}
	for i := range out {
		out[i] -= all
	}
	return out
}
