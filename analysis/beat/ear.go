package beat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"rundown/dsp/filter"
	"rundown/dsp/onset"
)

// ear knows the sound of a movement's beats, as learned from one stretch of a
// recording. All its lengths are in frames.
type ear struct {
	rate   float64 // frames a second
	period float64 // tick to tick, where it was learned
	offset float64 // tock late against the middle between two ticks
	sigma  float64 // scatter of the marks about an even beat
	band   *filter.Band
	voice  [2]*voice
	lifts  bool    // the first and the last sound of both sides stand apart
	lone   int     // or of this voice alone, the other being weak; -1 for both
	lift   float64 // from first to last sound, where lifts
	mark   string  // which sound marks the beat

	// How the beats lie on a tape.
	block  int        // frames a block
	before float64    // frames before a mark that are needed to find it
	after  float64    // and after it
	lead   float64    // the sounds of a beat begin so many frames before its mark
	tail   float64    // and end so many frames after
	floor  float64    // energy of the room in the band
	onset  float32    // least onset strength at which a beat is looked for
	delay  [2]float64 // mark of either voice after its strongest onset
	catch  float64    // how far from there it may lie
}

// voice is the sound of one side's beats.
type voice struct {
	matcher  *onset.Matcher // finds the beat's mark
	snr      float64        // of a beat as loud as the average one, in the room as it was
	rho      float64        // least likeness at which a match is taken for a beat
	average  *onset.Average // the beats it was learned from
	groups   [][]float64    // averages of a few of them each, in order of time
	mark     float64        // place of the mark in the average
	contacts []onset.Contact
	clear    int    // index of the contact by which the mark is found; -1 without any
	ends     [2]end // first and last contact
}

// end is the first or last sound of a beat.
type end struct {
	sound  []float64
	origin float64 // from the start of sound to where it sets in
	at     float64 // place of that in the average
}

// edge is the first or last sound of a beat, for following how it moves against
// the mark.
type edge struct {
	matcher *onset.Matcher
	at      float64 // where it sets in, relative to the mark
	share   float64 // by how much that grows with the lift time
}

// template cuts the part of the average from one place to another, and returns
// it with the distance from its start to the mark.
func (v *voice) template(from, to, mark float64) ([]float64, float64) {
	a := max(0, int(math.Floor(from)))
	b := min(len(v.average.Sum), int(math.Ceil(to)))
	return v.average.Mean()[a:b], mark - float64(a)
}

// strongest returns the index of the contact with the most energy, -1 where
// there is none.
func (v *voice) strongest() int {
	s := -1
	for i, c := range v.contacts {
		if s < 0 || c.Energy > v.contacts[s].Energy {
			s = i
		}
	}
	return s
}

// clearest returns the index of the contact that stands out most of the room as a
// matcher hears it, -1 where there is none. Another one that did so would be
// taken for it.
func (v *voice) clearest(shaping *onset.Shaping, ms float64) int {
	best, most := -1, 0.0
	for i := range v.contacts {
		from, to := v.extent(i, ms)
		t, origin := v.template(from, to, from)
		if snr := onset.NewMatcher(shaping, t, origin, 0).SNR(); snr > most {
			best, most = i, snr
		}
	}
	return best
}

// reach of a contact's own sound, from shortly before it sets in to the next
// contact, at most 4 ms.
func (v *voice) extent(i int, ms float64) (from, to float64) {
	at := v.contacts[i].At
	to = at + 4*ms
	if i+1 < len(v.contacts) {
		to = min(to, v.contacts[i+1].At-0.1*ms)
	}
	return at - 0.4*ms, max(to, at+1.2*ms)
}

// listen chooses what marks the beats and builds the matchers for it. The mark
// of both sides is mid-lift, halfway between the first and last sound, where
// both sides have them; the matcher goes by the loudest single sound, because
// the sounds move against each other as the amplitude changes.
func (e *ear) listen(shaping *onset.Shaping) {
	ms := e.rate / 1000
	e.lifts, e.lift = false, 0
	// Through the difference, edges are sharper; through the band, the room is
	// quieter. Many beats in one average show weak sounds; few, those that move.
	// One side alone is the last resort.
	alone, lone := [2]voice{}, -1
	for _, through := range []onset.Filter{onset.Difference(e.rate), e.band.Apply} {
		for size := len(e.voice[0].groups); size > 0 && !e.lifts; size /= 3 {
			each(func(s int) {
				v := e.voice[s]
				groups := merge(v.groups, size)
				v.contacts = onset.Contacts(groups, through, e.rate, 0.12*e.period)
				v.sharpen(shaping, through, groups, ms)
			})
			e.findLift(ms)
			if s := e.findLone(shaping, ms); lone < 0 && s >= 0 {
				alone, lone = [2]voice{*e.voice[0], *e.voice[1]}, s
			}
		}
	}
	if !e.lifts && lone >= 0 {
		*e.voice[0], *e.voice[1] = alone[0], alone[1]
		e.lifts, e.lift, e.mark, e.lone = true, e.voice[lone].span(), "middle", lone
	}
	for _, v := range e.voice {
		v.listen(shaping, e, ms)
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

// findLift decides whether the lift time can be told: both sides have a first
// and a last sound, much the same time apart.
func (e *ear) findLift(ms float64) {
	lift := [2]float64{e.voice[0].span(), e.voice[1].span()}
	long, short := max(lift[0], lift[1]), min(lift[0], lift[1])
	e.mark, e.lone = "loudest", -1
	enough := min(e.voice[0].average.N, e.voice[1].average.N) >= 20
	e.lifts = enough && short > 1.5*ms && long < 1.1*short && long < 0.12*e.period
	if e.lifts {
		e.mark, e.lift = "middle", (long+short)/2
	}
}

// findLone returns the side that shows the lift time alone, -1 if none does: its
// unlocking, impulse and drop are heard, of the other side's no more than the
// drop, the clearest sound of both, and the impulse; or it is far louder, and of
// the other side no more than one sound is heard. A balance of common amplitude
// takes some two to five hundredths of its period through its lift, a pendulum
// less.
func (e *ear) findLone(shaping *onset.Shaping, ms float64) int {
	for s, v := range e.voice {
		other := e.voice[1-s]
		lift := v.span()
		if v.average.N < 20 || lift < max(1.5*ms, leastLift(e.period/e.rate)*e.period) || lift > 0.12*e.period {
			continue
		}
		weak := len(other.contacts) < 2 && v.loudest() > 4*other.loudest()
		part := len(v.contacts) == 3 && len(other.contacts) < 3 && other.span() < 0.9*lift
		if weak || part && v.endsClearest(shaping, ms) && other.endsClearest(shaping, ms) {
			return s
		}
	}
	return -1
}

// span returns how long after the first contact the last one comes, 0 where
// there are no two.
func (v *voice) span() float64 {
	if len(v.contacts) < 2 {
		return 0
	}
	return v.ends[1].at - v.ends[0].at
}

// endsClearest tells whether no contact is heard more clearly than the last one.
func (v *voice) endsClearest(shaping *onset.Shaping, ms float64) bool {
	return v.clearest(shaping, ms) == len(v.contacts)-1
}

// leastLift is which part of a period in seconds the lift takes at least.
func leastLift(period float64) float64 {
	if period < 0.65 {
		return 0.018
	}
	return 0.004
}

// loudest returns the energy of the loudest contact, 0 where there is none.
func (v *voice) loudest() float64 {
	if i := v.strongest(); i >= 0 {
		return v.contacts[i].Energy
	}
	return 0
}

func (v *voice) listen(shaping *onset.Shaping, e *ear, ms float64) {
	from, to := float64(v.average.Pre)-2*ms, float64(v.average.Pre)+4*ms
	v.mark = float64(v.average.Pre)
	v.clear = v.clearest(shaping, ms)
	if v.clear >= 0 {
		from, to = v.extent(v.clear, ms)
		v.mark = v.contacts[v.clear].At
		switch last := len(v.contacts) - 1; {
		case e.lifts && (e.lone < 0 || v == e.voice[e.lone]):
			v.mark = (v.ends[0].at + v.ends[1].at) / 2
		case e.lifts && v.clear == last && e.voice[e.lone].endsClearest(shaping, ms):
			v.mark -= e.lift / 2 // it is the drop
		}
	}
	reach := int(max(4*ms+e.lift/2, 8*e.sigma))
	t, origin := v.template(from, to, v.mark)
	v.matcher = onset.NewMatcher(shaping, t, origin, reach)
	if v.matcher.SNR() < 12 {
		// One sound alone is too weak in this room: the whole beat, then, but no
		// farther than its sounds reach; beyond, there is noise alone.
		wide := min(0.04*e.period, 12*ms)
		from, to = float64(v.average.Pre)-wide, float64(v.average.Pre)+wide
		if n := len(v.contacts); n > 1 {
			from, to = v.contacts[0].At-0.4*ms, v.contacts[n-1].At+4*ms
		}
		t, origin = v.template(from, to, v.mark)
		v.matcher = onset.NewMatcher(shaping, t, origin, reach)
	}
	v.snr = v.matcher.SNR()
}

// believable tells whether what was learned is an escapement: its beats have a
// sound of their own that stands clear of the room, or at least they come as
// evenly as an oscillator makes them. The near-periodic noise of an engine has
// neither: learned from it, sounds stand a few standard deviations out of the
// noise, and scatter by more than a hundredth of the period.
func (e *ear) believable() bool {
	snr := max(e.voice[0].snr, e.voice[1].snr)
	return snr >= 15 || snr >= 5 && e.sigma < 0.004*e.period
}

// perSecond is how many blocks there are in a second.
func (e *ear) perSecond() float64 { return e.rate / float64(e.block) }

// sharpen finds the first and last contact exactly.
func (v *voice) sharpen(shaping *onset.Shaping, through onset.Filter, groups [][]float64, ms float64) {
	for k := range v.ends {
		if len(v.contacts) < 2 {
			return
		}
		i := k * (len(v.contacts) - 1)
		_, to := v.extent(i, ms)
		at := v.contacts[i].At
		sound, origin, mean := onset.Sharpen(shaping, through, groups, at, int(ms), int(to-at))
		v.ends[k] = end{sound, origin, mean}
	}
}

// edges returns matchers for the first and last sound of a side. The first comes
// half the lift before its middle and the last half after, while the mark stays
// with the sound that it is found by, which comes at its own part of the lift.
func (v *voice) edges(shaping *onset.Shaping) [2]edge {
	marked := 0.0
	if v.clear >= 0 {
		marked = (v.contacts[v.clear].At - v.mark) / (v.ends[1].at - v.ends[0].at)
	}
	var out [2]edge
	for k, end := range v.ends {
		out[k] = edge{onset.NewMatcher(shaping, end.sound, end.origin, 0), end.at - v.mark, float64(k) - 0.5 - marked}
	}
	return out
}

// settle learns how beats with the given marks lie on a tape of block energies:
// what their sounds take up, how strongly they set in, and how loud the room is.
func (e *ear) settle(energy []float32, marks [2][]float64) {
	for _, v := range e.voice {
		b, a := v.matcher.Span()
		e.before, e.after = max(e.before, float64(b)), max(e.after, float64(a))
	}
	room := onset.Floor(nil, energy, e.perSecond())
	strength := onset.Strength(nil, energy, e.perSecond())
	slices.Sort(room)
	if len(room) > 0 {
		e.floor = float64(room[len(room)/2])
	}
	half := e.period / 2
	e.catch = 0.004*e.rate + e.lift
	before, after := int(0.4*half), int(0.55*half)
	least := math.Inf(1)
	var means [2][]float64
	for s := range e.voice {
		means[s] = e.mean(energy, marks[s], before, after)
		least = min(least, slices.Max(means[s])-slices.Min(means[s]))
	}
	for s := range e.voice {
		lead, tail := e.extent(means[s], before, 0.1*least)
		// The sounds move outward as the amplitude falls.
		room := 0.02 * e.period
		if e.lifts {
			room = outward * e.lift
		}
		e.lead, e.tail = max(e.lead, lead+room), max(e.tail, tail+room)
		delay, size := e.onsets(strength, marks[s])
		e.delay[s] = delay
		e.onset = max(e.onset, 0.4*size)
	}
}

// outward is by how much of the lift time the sounds of a beat may move outward
// and still be taken for its own.
const outward = 0.75

// mean returns the mean energy about the marks, block by block.
func (e *ear) mean(energy []float32, marks []float64, before, after int) []float64 {
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
func (e *ear) extent(mean []float64, before int, by float64) (lead, tail float64) {
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

// onsets returns the median distance, in frames, from the strongest onset of a
// beat to its mark, and the median strength of that onset.
func (e *ear) onsets(strength []float32, marks []float64) (delay float64, size float32) {
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
