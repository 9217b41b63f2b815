package beat

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"rundown/analysis/acquisition"
	"rundown/dsp/filter"
	"rundown/dsp/onset"
	"rundown/dsp/parallel"
)

// learner turns a stretch of sound in which a beat was found into a model.
type learner struct {
	x       []float32
	rate    float64 // frames a second
	block   float64 // frames a block
	period  float64 // frames
	shaping *onset.Shaping
	sums    []float64 // of the differences of samples, squared, before each block of x
	usual   float64   // median energy about the beats, by those
}

// learn listens to a stretch x of one channel in which a beat was found. The
// energies that the model goes by are those in band; where that is nil, it chooses
// one.
func learn(x []float32, rate float64, h *acquisition.Hypothesis, band *filter.Band) *soundModel {
	l := &learner{x: x, rate: rate, block: float64(filter.BlockFrames(rate)), period: h.Period}
	starts := inOrder(h.Marks)
	l.weigh(starts)
	l.shaping = onset.NewShaping(x, rate, starts, int(0.015*rate), int(min(0.25*h.Period, 0.08*rate)))
	var marks [2][]float64
	parallel.Each(2, func(s int) {
		if marks[s] = l.align(h.Marks[s]); !l.clear(marks[s]) {
			marks[s] = l.bootstrap(h.Marks[s])
		}
	})
	return l.finish(marks, band)
}

// inOrder returns the frames of the marks of both sides in order of time.
func inOrder(marks [2][]float64) []int {
	all := slices.DeleteFunc(slices.Concat(marks[0], marks[1]), math.IsNaN)
	slices.Sort(all)
	frames := make([]int, len(all))
	for i, v := range all {
		frames[i] = int(v)
	}
	return frames
}

// finish makes a model of the marks of both sides.
func (l *learner) finish(marks [2][]float64, band *filter.Band) *soundModel {
	half := l.period / 2
	e := &soundModel{rate: l.rate, block: int(l.block), period: l.period}
	if e.band = band; band == nil {
		centre, q := l.shaping.Best()
		e.band = filter.NewBand(centre, q, l.rate)
	}
	e.sigma = max(0.1, l.scatter(marks[0], marks[1]))
	// What the finished matchers find makes a sharper average, and that better
	// matchers.
	for range 2 {
		parallel.Each(2, func(s int) { e.templates[s] = l.template(marks[s], 0.45*half) })
		e.chooseContacts(l.shaping, func(s int, m *onset.Matcher, after float64) float64 { return l.heard(m, later(marks[s], after)) })
		marks = l.calibrate(e, marks)
	}
	for v, side := range marks {
		for _, at := range side {
			if !math.IsNaN(at) {
				e.beats = append(e.beats, mark{at, v})
			}
		}
	}
	slices.SortFunc(e.beats, func(a, b mark) int { return cmp.Compare(a.at, b.at) })
	e.measureExtent(e.band.Blocks(l.x, int(l.block)), marks)
	return e
}

// weigh makes weight ready, for beats that set in at the given frames.
func (l *learner) weigh(starts []int) {
	block := int(l.block)
	l.sums = make([]float64, len(l.x)/block+1)
	for i := range len(l.sums) - 1 {
		var sum float32
		// One difference in four will do.
		x := l.x[i*block:][:block]
		for ; len(x) > 1; x = x[min(4, len(x)):] {
			d := x[1] - x[0]
			sum += d * d
		}
		l.sums[i+1] = l.sums[i] + float64(sum)
	}
	energies := make([]float64, len(starts))
	for i, at := range starts {
		energies[i] = l.energy(float64(at))
	}
	if len(energies) > 0 {
		l.usual = median(energies)
	}
}

// energy returns how loud it is about a mark, the beat itself included.
func (l *learner) energy(mark float64) float64 {
	at := int(mark / l.block)
	from, to := max(0, at-20), min(len(l.sums)-1, at+30)
	if to <= from {
		return 0
	}
	return (l.sums[to] - l.sums[from]) / float64(to-from)
}

// weight is what a beat with the given mark counts in an average: less than one
// where it is far louder than usual, so that no bark or wave is learned for a
// beat.
func (l *learner) weight(mark float64) float64 {
	const far = 3
	if e := l.energy(mark); e > far*l.usual && l.usual > 0 {
		return far * l.usual / e
	}
	return 1
}

// template returns one with nothing but the averages of the beats at the given
// marks, as far around as the longest lift takes, and no farther than width.
func (l *learner) template(marks []float64, width float64) *template {
	n := max(8, int(4*l.rate/(l.period)))
	side := min(0.16*l.period, width)
	pre, post := int(side), int(min(side+0.02*l.rate, width))
	v := &template{average: onset.NewAverage(pre, post)}
	group := onset.NewAverage(pre, post)
	for at := 0; at < len(marks); at += n {
		group.Reset()
		for _, m := range marks[at:min(at+n, len(marks))] {
			group.AddWeighed(l.x, m, l.weight(m))
		}
		v.average.Join(group)
		if at == 0 || at+n <= len(marks) {
			v.groups = append(v.groups, group.Mean())
		}
	}
	return v
}

// align refines coarse marks by matching the beats with their own average, over
// again as the average sharpens. Beats that are unlike the others are NaN.
func (l *learner) align(coarse []float64) []float64 {
	ms := l.rate / 1000
	const many = 80 // beats that an average is first learned from, about
	step := max(1, (len(coarse)+many/2)/many)
	few := everyNth(coarse, 0, step)
	m := l.matcher([]float64{l.loudish(few)}, 4*ms)
	var marks []float64
	for range 4 {
		before := marks
		// Not near the marks before: these may be of different sounds.
		marks = l.regular(l.match(m, few, nil))
		m = l.matcher(marks, 4*ms)
		if settled(before, marks) {
			break
		}
	}
	return l.regular(l.match(m, coarse, fillIn(marks, step, len(coarse))))
}

// fillIn returns n marks, interpolated between the given ones of every so many
// beats; NaN after the last.
func fillIn(marks []float64, step, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		k, f := i/step, float64(i%step)/float64(step)
		switch {
		case f == 0:
			out[i] = marks[k]
		case k+1 < len(marks):
			out[i] = marks[k]*(1-f) + marks[k+1]*f
		default:
			out[i] = math.NaN()
		}
	}
	return out
}

// settled tells whether marks are where they were before, as nearly as makes no
// difference to their average: nearly all within a fifth of a frame of where
// the others have gone.
func settled(before, marks []float64) bool {
	moved := make([]float64, 0, len(marks))
	for i, m := range before {
		if d := marks[i] - m; !math.IsNaN(d) {
			moved = append(moved, d)
		}
	}
	if 10*len(moved) < 9*len(marks) || len(moved) < 10 {
		return false
	}
	slices.Sort(moved)
	return moved[len(moved)*9/10]-moved[len(moved)/10] < 0.4
}

// regular makes those of the marks of one side NaN that lie far from where their
// neighbours would have them: there, another sound of the beat was taken for
// the one that marks it.
func (l *learner) regular(marks []float64) []float64 {
	const reach = 7 // beats either side
	if len(marks) < 2*reach {
		return marks
	}
	steps := make([]float64, 0, len(marks))
	for i := 1; i < len(marks); i++ {
		if d := marks[i] - marks[i-1]; !math.IsNaN(d) {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return marks
	}
	slices.Sort(steps)
	step := steps[len(steps)/2]
	off := make([]float64, len(marks))
	size := make([]float64, 0, len(marks))
	near := make([]float64, 0, 2*reach+1)
	for i := range marks {
		near = near[:0]
		for j := max(0, i-reach); j < min(len(marks), i+reach+1); j++ {
			if v := marks[j] - float64(j-i)*step; !math.IsNaN(v) {
				near = append(near, v)
			}
		}
		off[i] = math.NaN()
		if len(near) > 0 {
			slices.Sort(near)
			off[i] = math.Abs(marks[i] - near[len(near)/2])
		}
		if !math.IsNaN(off[i]) {
			size = append(size, off[i])
		}
	}
	if len(size) == 0 {
		return marks
	}
	slices.Sort(size)
	bound := max(6*size[len(size)/2]/0.6745, 0.0003*l.rate)
	out := slices.Clone(marks)
	for i, d := range off {
		if d > bound {
			out[i] = math.NaN()
		}
	}
	return out
}

// matcher returns one for the mean of the beats at the given marks.
func (l *learner) matcher(marks []float64, reach float64) *onset.Matcher {
	ms := l.rate / 1000
	width := l.period / 4
	pre, post := min(6*ms, width), min(14*ms, width)
	a := onset.NewAverage(int(pre), int(post))
	for _, m := range marks {
		if !math.IsNaN(m) {
			a.AddWeighed(l.x, m, l.weight(m))
		}
	}
	// As it is: freed of the room, the mean of beats that are laid over each other badly keeps
	// its loudest note alone, by which they are never laid better.
	return onset.NewMatcher(l.shaping, a.Mean(), math.MaxInt, float64(a.Pre), int(reach))
}

// match returns where m finds its sound, within 4 ms of the coarse marks, NaN
// where what it finds is far less like it than usual. It first looks near the
// marks that the beats were thought to have, if any.
func (l *learner) match(m *onset.Matcher, coarse, thought []float64) []float64 {
	out := make([]float64, len(coarse))
	rho := make([]float64, len(coarse)) // NaN where the mark was near
	rhos := make([]float64, 0, len(coarse))
	for i, c := range coarse {
		if thought != nil {
			if f, ok := l.near(m, thought[i], 0.00025*l.rate); ok {
				out[i], rho[i] = f.Frame, math.NaN()
				continue
			}
		}
		f, ok := m.Find(l.x, 0, c, 0.004*l.rate)
		out[i], rho[i] = f.Frame, f.Rho
		if !ok {
			out[i] = math.NaN()
			continue
		}
		rhos = append(rhos, f.Rho)
	}
	if len(rhos) < len(out)/2 {
		return out // nearly all are where they were
	}
	slices.Sort(rhos)
	least := 0.4 * rhos[len(rhos)/2]
	for i := range out {
		if rho[i] < least {
			out[i] = math.NaN()
		}
	}
	return out
}

// near returns what m finds within so many frames of at, if it is half as loud
// as usual or louder, and that stands four standard deviations out of the room.
func (l *learner) near(m *onset.Matcher, at, within float64) (onset.Match, bool) {
	if m.SNR() < 8 {
		return onset.Match{}, false
	}
	f, ok := m.Near(l.x, 0, at, int(within))
	return f, ok && f.Gain > 0.5
}

// loudish returns, of the given coarse marks, that of the beat with the upper
// quartile of energy: clear, and not a slammed door.
func (l *learner) loudish(coarse []float64) float64 {
	type loud struct{ at, e float64 }
	ls := make([]loud, 0, len(coarse))
	n := int(0.01 * l.rate)
	for _, c := range coarse {
		i := int(c)
		if i < n || i+2*n > len(l.x) {
			continue
		}
		var e float64
		for _, v := range l.x[i : i+n] {
			e += float64(v) * float64(v)
		}
		ls = append(ls, loud{c, e})
	}
	if len(ls) == 0 {
		return coarse[0]
	}
	slices.SortFunc(ls, func(a, b loud) int {
		if a.e < b.e {
			return -1
		}
		return 1
	})
	return ls[len(ls)*3/4].at
}

// clear tells whether the beats of a side, at the given marks, stand out of the
// room one by one.
func (l *learner) clear(marks []float64) bool {
	return l.matcher(marks, 1).SNR() >= 12 && heardOf(marks) > 0.9
}

// heardOf returns which part of the marks are not NaN.
func heardOf(marks []float64) float64 {
	n := 0
	for _, m := range marks {
		if !math.IsNaN(m) {
			n++
		}
	}
	return float64(n) / float64(max(1, len(marks)))
}

// bootstrap refines the marks of a side whose single beats hardly stand out of
// the room from guesses that are right to some tens of microseconds: the mean
// sound sharpens as its beats are moved within a quarter of a millisecond.
func (l *learner) bootstrap(guessed []float64) []float64 {
	reach := 0.00025 * l.rate
	marks := guessed
	for range 4 {
		m := l.matcher(marks, reach)
		next := make([]float64, len(guessed))
		for i, g := range guessed {
			next[i] = g
			if f, ok := m.Near(l.x, 0, g, int(reach)); ok {
				next[i] = f.Frame
			}
		}
		marks = next
	}
	// Noise, too, aligns itself with its own mean, to about three.
	if l.matcher(marks, 1).SNR() < 6 {
		return guessed
	}
	return marks
}

// scatter returns the standard deviation of single marks about an even beat, in
// frames, from the second differences of each side, robustly; no more than a
// hundredth of the period.
func (l *learner) scatter(sides ...[]float64) float64 {
	var d []float64
	for _, m := range sides {
		for i := 2; i < len(m); i++ {
			if v := math.Abs(m[i] - 2*m[i-1] + m[i-2]); !math.IsNaN(v) {
				d = append(d, v)
			}
		}
	}
	if len(d) == 0 {
		return 0.001 * l.rate
	}
	slices.Sort(d)
	// 0.6745 standard deviations is the median magnitude of a normal
	// distribution; a second difference has six times the variance.
	return min(d[len(d)/2]/0.6745/math.Sqrt(6), 0.01*l.period)
}

// common returns the scatter of the marks of both sides, frames. It is that of one oscillator, to
// which the room adds to either side's: where one side scatters by more than twice as much, another
// cycle of its sound was taken for the one that marks it, and what it would have counts.
func (l *learner) common(found [2][]float64, e *soundModel) float64 {
	const (
		ofRoom = 2 // times the standard error that the room leaves to a mark
		much   = 2
	)
	own := [2]float64{l.scatter(found[0]), l.scatter(found[1])}
	for s, v := range e.templates {
		if would := math.Hypot(own[1-s], ofRoom*v.blur/v.snr); own[s] > much*would {
			own[s] = would
		}
	}
	return math.Sqrt((own[0]*own[0] + own[1]*own[1]) / 2)
}

// calibrate sets what depends on the finished matchers: the least likeness of
// each side, the scatter, and the offset of the tock. It returns the marks that
// the matchers find.
func (l *learner) calibrate(e *soundModel, marks [2][]float64) [2][]float64 {
	var found [2][]float64
	parallel.Each(2, func(s int) {
		v := e.templates[s]
		var rhos, unlike []float64
		shifted := v.mark - float64(v.average.Pre)
		every := max(1, len(marks[s])/50)
		for i, m := range marks[s] {
			if math.IsNaN(m) {
				continue
			}
			if i%every != 0 {
				if f, ok := l.near(v.matcher, m+shifted, 0.00025*l.rate+4*e.sigma); ok {
					found[s] = append(found[s], f.Frame)
					continue
				}
			}
			if f, ok := v.matcher.Find(l.x, 0, m+shifted, 0.001*l.rate+4*e.sigma); ok {
				rhos = append(rhos, f.Rho)
				if u := v.matcher.Unlike(l.x, 0, f); !math.IsNaN(u) {
					unlike = append(unlike, u)
				}
				found[s] = append(found[s], f.Frame)
			}
		}
		found[s] = l.regular(found[s])
		found[s] = l.better(found[s], later(marks[s], shifted))
		if len(unlike) > 0 {
			v.unlike = math.Sqrt(max(0, median(unlike)))
		}
		if len(rhos) > 0 {
			slices.Sort(rhos)
			v.rho = min(0.3, 0.4*rhos[len(rhos)/10])
		}
	})
	e.sigma = max(0.05, l.common(found, e))
	e.offset = offset(found, e.period)
	return found
}

// better returns those of two marks of a side's beats that lay them better over each other, of which
// the mean stands farther out of the room: one sound of a beat alone may be taken for another cycle of
// its ringing.
func (l *learner) better(a, b []float64) []float64 {
	if l.matcher(b, 1).SNR() > l.matcher(a, 1).SNR() {
		return b
	}
	return a
}

// heard returns the median signal-to-noise ratio with which a matcher hears some fifty of the beats
// with the given marks, 0 without any.
func (l *learner) heard(m *onset.Matcher, marks []float64) float64 {
	var snrs []float64
	for _, at := range everyNth(marks, 0, max(1, len(marks)/50)) {
		if f, ok := m.Near(l.x, 0, at, int(0.00025*l.rate)); ok {
			snrs = append(snrs, f.SNR)
		}
	}
	if len(snrs) == 0 {
		return 0
	}
	return median(snrs)
}

// later returns marks that are all so many frames later.
func later(marks []float64, by float64) []float64 {
	out := slices.Clone(marks)
	floats.AddConst(by, out)
	return out
}

// offset returns by how much the beats of side 1 usually come after the middle between those of side
// 0, which come a period apart.
func offset(marks [2][]float64, period float64) float64 {
	var offsets []float64
	for _, tick := range marks[0] {
		// The tock that follows within a period.
		for _, tock := range marks[1] {
			if d := tock - tick; d > 0 && d < period {
				offsets = append(offsets, d-period/2)
				break
			}
		}
	}
	if len(offsets) == 0 {
		return 0
	}
	slices.Sort(offsets)
	return offsets[len(offsets)/2]
}

// everyNth returns every nth value of x, the first one at from.
func everyNth(x []float64, from, n int) []float64 {
	var out []float64
	for i := from; i < len(x); i += n {
		out = append(out, x[i])
	}
	return out
}

func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	return y[len(y)/2]
}
