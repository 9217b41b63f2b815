package sequence

import (
	"math"
	"slices"

	"rundown/dsp/stats"
)

// lilt finds by how much tocks come later than ticks against an even beat, slowly
// changing, from each beat and its two neighbours of the other side.
func (l *line) lilt() []float64 {
	const wide = 16 // beats from one neighbour to the other, at most
	n := len(l.raw)
	m := make([]float64, n)
	for j := range m {
		m[j] = math.NaN()
		if j == 0 || j+1 >= n || l.side[j-1] != l.side[j+1] || l.side[j] == l.side[j-1] || l.index[j+1]-l.index[j-1] > wide ||
			l.step[j] || l.step[j+1] || l.useless(j-1) || l.useless(j) || l.useless(j+1) {
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

// useless tells whether beat j tells nothing of its neighbours: it is displaced
// alone, or the sound leaves it an error of twice the scatter, which is 1.
func (l *line) useless(j int) bool { return l.out[j] || l.se[j] > 2 }

const (
	fewest, most = 12, 128 // beats in a turn of an escape wheel
	turns        = 6       // of it, that have to be heard
)

// wheel finds what comes round with the escape wheel without losing time: the
// mean of each place, or zeros where nothing comes round. Ticks come earlier and
// tocks later by lilt.
func (l *line) wheel(lilt []float64) {
	clear(l.teeth)
	d, all := make([]float64, len(l.raw)), make([]float64, 0, len(l.raw))
	for j := range d {
		d[j] = math.NaN()
		if j > 0 && l.gap[j] == 1 && !l.step[j] && !l.useless(j) && !l.useless(j-1) {
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
	shape := l.roughly(d, sd, l.period)
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

// stepsComeRound returns the number of beats after which steps come at one place of a
// turn, or 0: a wheel at one tooth of which time is lost, however little uneven the
// others are. All turns and places that are tried together give a false one in ten
// thousand lines.
func (l *line) stepsComeRound() int64 {
	var steps []int64
	for j, is := range l.step {
		if is {
			steps = append(steps, l.index[j])
		}
	}
	best, least := int64(0), math.Log(1e-4/float64((most-fewest)/2+1))
	for p := int64(fewest); p <= most; p += 2 {
		var count [most]int
		for _, at := range steps {
			count[at%p]++
		}
		chance := math.Log(float64(p)) + stats.LogBinomialTail(len(steps), slices.Max(count[:p]), 1/float64(p))
		if chance < least {
			best, least = p, chance
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
		beyond = 8 // standard deviations of the sum, which chance does not reach in any turn that is tried
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
