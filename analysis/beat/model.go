package beat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"rundown/dsp/filter"
	"rundown/dsp/onset"
	"rundown/dsp/parallel"
)

// soundModel is what is known of the sound of a movement's beats, as learned from one stretch of a
// recording. All its lengths are in frames.
type soundModel struct {
	rate      float64 // frames a second
	period    float64 // tick to tick, where it was learned
	offset    float64 // tock late against the middle between two ticks
	sigma     float64 // scatter of the marks about an even beat
	band      *filter.Band
	shaping   *onset.Shaping // the room
	templates [2]*template
	beats     []mark  // by which it was learned, in order of time
	span      float64 // from the first sound of a beat to the last, as far as single sounds were told

	// How the beats lie in a sample buffer.
	block       int        // frames a block
	before      float64    // frames before a mark that are needed to find it
	after       float64    // and after it
	lead        float64    // the sounds of a beat begin so many frames before its mark
	tail        float64    // and end so many frames after
	floor       float64    // energy of the room in the band
	ringing     []float64  // what is left of a beat's loudness so many blocks after its mark, or what was later, of the greatest
	outstanding float64    // how many times as loud as the quiet parts of the room a block must be to be none of it
	onset       float32    // least onset strength at which a beat is looked for
	delay       [2]float64 // mark of either side after its strongest onset
	catch       float64    // how far from there it may lie
}

// mark is where a beat of a side was in the stretch by which a model was learned,
// frames.
type mark struct {
	at   float64
	side int
}

// template is the sound of one side's beats.
type template struct {
	matcher  *onset.Matcher // finds the beat's mark
	wide     *onset.Matcher // the same, farther off
	snr      float64        // of a beat as loud as the average one, in the room as it was
	blur     float64        // standard error of a mark times its SNR, frames
	unlike   float64        // by how much of its height a beat's correlation differs from the template's own, root mean square
	rho      float64        // least likeness at which a match is taken for a beat
	average  *onset.Average // the beats it was learned from
	groups   [][]float64    // averages of a few of them each, in order of time
	mark     float64        // place of the mark in the average
	contacts []onset.Contact
	clear    int // index of the contact that marks the beat; -1 without any
}

// template cuts the part of the average from one place to another, and returns
// it with the distance from its start to the mark.
func (v *template) cut(from, to, mark float64) ([]float64, float64) {
	a := max(0, int(math.Floor(from)))
	b := min(len(v.average.Sum), int(math.Ceil(to)))
	return v.average.Mean()[a:b], mark - float64(a)
}

// clearest returns the index of the contact that stands out most as a matcher hears it, of
// the room and of what still rings where it sets in, -1 where there is none. Another one that
// stood out more of the room would be taken for it; and what rings moves against it as the
// amplitude changes, and takes one cycle of it for another. One that is not told from its
// neighbourhood, as before a louder contact that sounds alike, is taken where no other is.
func (v *template) clearest(shaping *onset.Shaping, ms float64) int {
	best, most := -1, 0.0
	mean := v.average.Mean()
	matcher := func(from, to, mark float64) *onset.Matcher {
		t, origin := v.cut(from, to, mark)
		return onset.NewMatcher(shaping, t, v.average.N, origin, int(nearby*ms)+1)
	}
	for i, c := range v.contacts {
		const before, apart = 1.5, 0.1 // ms
		const least = 1e-6             // of what is told from nothing else
		rings := matcher(c.At-before*ms, c.At-apart*ms, c.At).SNR()
		power := 1 + rings*rings/((before-apart)*ms)
		from, to := v.extent(i, ms)
		m := matcher(from, to, c.At)
		if clear := m.SNR() / math.Sqrt(power) * max(least, distinct(m, mean, c.At, ms)); clear > most {
			best, most = i, clear
		}
	}
	return best
}

// nearby is how far about a place, in ms, another one may be taken for it: as far as a beat is
// looked for in its place.
const nearby = 1.2

// distinct returns how surely a sound is told by its matcher from all else within nearby of its
// place in the mean beat: by how much more it is heard there, against what that varies by from
// beat to beat, as a part of three standard deviations, which one beat in seven hundred exceeds; at
// most 1.
func distinct(m *onset.Matcher, mean []float64, at, ms float64) float64 {
	const (
		cycle  = 0.06  // ms, less than one of what rings
		varies = 0.075 // of the correlation, where that of the sound with itself is none: by hand, where unlike is 0.06 or less
		surely = 3
	)
	x := make([]float32, len(mean))
	for i, v := range mean {
		x[i] = float32(v)
	}
	own, other := 0.0, 0.0
	for _, f := range m.FindSeveral(x, 0, at, nearby*ms, cycle*ms, 2) {
		if math.Abs(f.Frame-at) < cycle*ms {
			own = f.SNR
		} else {
			other = max(other, f.SNR)
		}
	}
	if other >= own {
		return 0
	}
	alike := other / own // what of the noise both have in common
	return min(1, (own-other)/(surely*math.Sqrt(1-alike*alike)*math.Hypot(1, varies*own)))
}

// reach of a contact's own sound, from shortly before it sets in to the next
// contact, at most 4 ms.
func (v *template) extent(i int, ms float64) (from, to float64) {
	at := v.contacts[i].At
	to = at + 4*ms
	if i+1 < len(v.contacts) {
		to = min(to, v.contacts[i+1].At-0.1*ms)
	}
	return at - 0.4*ms, max(to, at+1.2*ms)
}

// chooseContacts chooses what marks the beats, the clearest single sound of each side,
// and builds the matchers for it. The other sounds move against it as the
// amplitude changes; where mid-lift lies is told at the end, from the whole run.
// heard returns how clearly a matcher hears a side's beats, as a signal-to-noise ratio,
// where its mark lies so many frames after theirs.
func (e *soundModel) chooseContacts(shaping *onset.Shaping, heard func(s int, m *onset.Matcher, after float64) float64) {
	ms := e.rate / 1000
	e.shaping, e.span = shaping, 0
	parallel.Each(2, func(s int) {
		v := e.templates[s]
		v.contacts = onset.Contacts(merge(v.groups, len(v.groups)), onset.Difference(e.rate), e.rate, 0.12*e.period)
	})
	for _, v := range e.templates {
		if n := len(v.contacts); n > 1 {
			e.span = max(e.span, v.contacts[n-1].At-v.contacts[0].At)
		}
	}
	for s, v := range e.templates {
		v.makeMatchers(shaping, e, ms, func(m *onset.Matcher, after float64) float64 { return heard(s, m, after) })
	}
}

// merge returns the means of size averages each.
func merge(xs [][]float64, size int) [][]float64 {
	var out [][]float64
	for at := 0; at == 0 || at+size <= len(xs); at += size {
		part := xs[at:min(at+size, len(xs))]
		mean := make([]float64, len(part[0]))
		for _, x := range part {
			floats.AddScaled(mean, 1/float64(len(part)), x)
		}
		out = append(out, mean)
	}
	return out
}

// clearly is the signal-to-noise ratio with which a single sound has to be heard in a side's beats to
// be their mark.
const clearly = 9

// makeMatchers makes the matchers of the sound that is to mark the beats, or of the whole beat.
func (v *template) makeMatchers(shaping *onset.Shaping, e *soundModel, ms float64, heard func(m *onset.Matcher, after float64) float64) {
	from, to := float64(v.average.Pre)-2*ms, float64(v.average.Pre)+4*ms
	v.mark = float64(v.average.Pre)
	v.clear = v.clearest(shaping, ms)
	if v.clear >= 0 {
		from, to = v.extent(v.clear, ms)
		v.mark = v.contacts[v.clear].At
	}
	reach := int(max(4*ms+e.span/2, 8*e.sigma))
	t, origin := v.cut(from, to, v.mark)
	v.matcher = onset.NewMatcher(shaping, t, v.average.N, origin, reach)
	if heard(v.matcher, v.mark-float64(v.average.Pre)) < clearly {
		// One sound alone is too weak in this room: the whole beat, then, but no
		// farther than its sounds reach; beyond, there is noise alone. As the lift
		// changes, it fades.
		wide := min(0.04*e.period, 12*ms)
		from, to = float64(v.average.Pre)-wide, float64(v.average.Pre)+wide
		if n := len(v.contacts); n > 1 {
			from, to = v.contacts[0].At-0.4*ms, v.contacts[n-1].At+4*ms
		}
		t, origin = v.cut(from, to, v.mark)
		v.matcher = onset.NewMatcher(shaping, t, v.average.N, origin, reach)
	}
	v.snr, v.blur = v.matcher.SNR(), v.matcher.Blur()
	v.wide = onset.NewMatcher(shaping, t, v.average.N, origin, int(e.reach()))
}

// believable tells whether what was learned is an escapement: its beats have a
// sound of their own that stands clear of the room, or at least they come as
// evenly as an oscillator makes them. The near-periodic noise of an engine has
// neither: learned from it, sounds stand a few standard deviations out of the
// noise, and scatter by more than a hundredth of the period. Nor are two sounds the two
// sides of one that are nearer to each other than half an interval.
func (e *soundModel) believable() bool {
	snr := max(e.templates[0].snr, e.templates[1].snr)
	return math.Abs(e.offset) < e.period/4 && (snr >= 15 || snr >= 5 && e.sigma < 0.004*e.period)
}

// perSecond is how many blocks there are in a second.
func (e *soundModel) perSecond() float64 { return e.rate / float64(e.block) }

// measureExtent learns how beats with the given marks lie in a sample buffer of block energies:
// what their sounds take up, how strongly they set in, and how loud the room is.
func (e *soundModel) measureExtent(energy []float32, marks [2][]float64) {
	for _, v := range e.templates {
		b, a := v.matcher.Span()
		e.before, e.after = max(e.before, float64(b)), max(e.after, float64(a))
	}
	e.outstanding = outstanding(e.band, e.shaping, e.perSecond())
	floor := onset.Floor(nil, energy, e.perSecond())
	strength := onset.Strength(nil, energy, e.perSecond())
	slices.Sort(floor)
	if len(floor) > 0 {
		e.floor = float64(floor[len(floor)/2])
	}
	half := e.period / 2
	e.catch = 0.004*e.rate + e.span
	before, after := int(0.4*half), int(0.55*half)
	least := math.Inf(1)
	var means [2][]float64
	for s := range e.templates {
		means[s] = e.mean(energy, marks[s], before, after)
		least = min(least, slices.Max(means[s])-slices.Min(means[s]))
	}
	// The sounds move outward as the amplitude falls.
	room := max(0.02*e.period, outward*e.span)
	e.ringing = rings(means, before/e.block, int(room)/e.block)
	for s := range e.templates {
		lead, tail := e.extent(means[s], before, 0.1*least)
		e.lead, e.tail = max(e.lead, lead+room), max(e.tail, tail+room)
		delay, size := e.onsets(strength, marks[s])
		e.delay[s] = delay
		e.onset = max(e.onset, 0.4*size)
	}
}

// outstanding returns how many times the room's quiet third a block of noise in a
// band reaches once in ten hours: its energy is distributed as χ², with two degrees
// of freedom for each hertz of bandwidth and second (H. Urkowitz, Proc. IEEE 55,
// 1967); the bandwidth is that of the room in the band.
func outstanding(band *filter.Band, shaping *onset.Shaping, perSecond float64) float64 {
	const once = 36000 // s
	step := shaping.Rate / 2 / float64(len(shaping.Room)-1)
	var sum, squares float64
	for k, room := range shaping.Room[1:] {
		d := band.Q * (float64(k+1)*step/band.Centre - band.Centre/(float64(k+1)*step))
		p := room / (1 + d*d)
		sum += p
		squares += p * p
	}
	width := step * sum * sum / squares
	noise := distuv.ChiSquared{K: math.Max(2, 2*width/perSecond)}
	return noise.Quantile(1-1/(once*perSecond)) / noise.Quantile(1./3)
}

// outward is by how much of the lift time the sounds of a beat may move outward
// and still be taken for its own.
const outward = 0.75

// mean returns the mean energy about the marks, block by block.
func (e *soundModel) mean(energy []float32, marks []float64, before, after int) []float64 {
	nb, na := before/e.block, after/e.block
	mean := make([]float64, nb+na+1)
	n := 0.0
	for _, m := range marks {
		at := int(m) / e.block
		if at < nb || at+na >= len(energy) {
			continue
		}
		for i := range mean {
			mean[i] += float64(energy[at-nb+i])
		}
		n++
	}
	for i := range mean {
		mean[i] /= max(1, n)
	}
	return mean
}

// extent returns how far before and after their marks beats are louder than the
// quietest part of their mean by a given energy.
func (e *soundModel) extent(mean []float64, before int, by float64) (lead, tail float64) {
	nb := before / e.block
	quiet := slices.Min(mean)
	first, last := nb, nb
	for i, v := range mean {
		if v-quiet > by {
			first, last = min(first, i), max(last, i)
		}
	}
	return float64((nb - first + 2) * e.block), float64((last - nb + 2) * e.block)
}

// rings returns what is left of the loudness of beats so many blocks after their marks, or
// later, of the greatest, where they are marked at a block of their means and sounds may
// have moved outward by so many.
func rings(means [2][]float64, mark, outward int) []float64 {
	out := make([]float64, len(means[0])-mark)
	for _, mean := range means {
		quiet, left := slices.Min(mean), 0.0
		for i := len(out) - 1; i >= 0; i-- {
			left = max(left, (mean[max(mark, mark+i-outward)]-quiet)/max(slices.Max(mean)-quiet, 1e-30))
			out[i] = max(out[i], left)
		}
	}
	return out
}

// onsets returns the median distance, in frames, from the strongest onset of a
// beat to its mark, and the median strength of that onset.
func (e *soundModel) onsets(strength []float32, marks []float64) (delay float64, size float32) {
	var delays []float64
	var sizes []float32
	for _, m := range marks {
		reach := int(e.catch)/e.block + 1
		at := int(m) / e.block
		if at < reach || at+reach >= len(strength) {
			continue
		}
		p := at - reach
		for i := p; i <= at+reach; i++ {
			if strength[i] > strength[p] {
				p = i
			}
		}
		delays = append(delays, m-float64(p*e.block))
		sizes = append(sizes, strength[p])
	}
	if len(delays) == 0 {
		return 0, 0
	}
	slices.Sort(delays)
	slices.Sort(sizes)
	return delays[len(delays)/2], sizes[len(sizes)/2]
}
