package contacts

import (
	"math"

	"rundown/analysis/drift"
	"rundown/dsp/stats"
)

// template is the sound of a contact, from lead frames before it sets in on.
type template struct {
	sound     []float64
	lead      float64
	norm      float64 // root of the sum of squares
	sharpness float64 // root mean square angular frequency, radians a frame
}

// A template holds a little of what comes before a contact, and the clearest
// part of its ringing.
const (
	leadSeconds     = 0.3e-3
	templateSeconds = 2.5e-3
)

// newTemplate takes a whitened sound.
func newTemplate(sound []float64, lead float64) *template {
	t := &template{sound: sound, lead: lead}
	var squares, slopes float64
	for i, v := range sound {
		squares += v * v
		if i > 0 {
			slopes += (v - sound[i-1]) * (v - sound[i-1])
		}
	}
	t.norm = math.Sqrt(squares)
	if squares > 0 {
		t.sharpness = math.Sqrt(slopes / squares)
	}
	return t
}

// match is where a template fits best.
type match struct {
	at  float64 // its place
	se  float64 // the Cramér-Rao bound in the room's noise
	snr float64 // height of the correlation over its standard deviation in the room's noise
}

// gathering is the correlation of a template with some neighbouring stacks, by lags from
// where the sound should be in each, as a sum over beats.
type gathering struct {
	corr    []float64
	offsets []float64 // from a block's place to the middle lag, by block
	blocks  []int
	beats   float64
}

// mostGathered is the most blocks that are listened to together.
const mostGathered = 16

// gather adds a block to g, with the template laid within reach frames of a place, and
// reports whether it holds the sound there.
func (s *sheet) gather(g *gathering, t *template, side, k int, near float64, reach int) bool {
	beats := float64(s.blocks[k].Sides[side].Beats)
	x, first := s.at(side, k, near-t.lead-float64(reach), len(t.sound)+2*reach)
	if x.Len() == 0 || beats == 0 || t.norm == 0 {
		return false
	}
	if len(g.blocks) == 0 {
		g.corr = make([]float64, 2*reach+1)
	}
	for l := range g.corr {
		var sum float64
		for i, v := range t.sound {
			sum += v * float64(x.x[l+i])
		}
		g.corr[l] += beats * float64(x.unit) * sum
	}
	g.blocks = append(g.blocks, k)
	g.offsets = append(g.offsets, first+t.lead+float64(reach))
	g.beats += beats
	return true
}

// peak returns where within so many lags of the middle the template fits best, from the
// middle, and its signal-to-noise ratio; false where it fits best at an end.
func (s *sheet) peak(g *gathering, t *template, side, within int) (shift, snr float64, ok bool) {
	middle := len(g.corr) / 2
	lo, hi := max(0, middle-within), min(len(g.corr)-1, middle+within)
	best := lo
	for l := lo; l <= hi; l++ {
		if g.corr[l] > g.corr[best] {
			best = l
		}
	}
	if best == lo || best == hi || g.corr[best] <= 0 {
		return 0, 0, false
	}
	here := g.corr[best]
	shift = float64(best-middle) + stats.Vertex(g.corr[best-1], here, g.corr[best+1])
	return shift, here / t.norm / math.Sqrt(g.beats*s.room[side]), true
}

// tell gives every block gathered its match, if the sound is plain in all of them
// together: where it is, and the Cramér-Rao bound of that, as much of it as is its own.
func (s *sheet) tell(out []match, g *gathering, t *template, side, within int) bool {
	shift, snr, ok := s.peak(g, t, side, within)
	if !ok || snr < plain {
		return false
	}
	// In a recording without a room, the bound is less than a place can be told to.
	const finest = 0.01 // frames
	se := math.Max(finest, math.Sqrt(float64(len(g.blocks)))/(snr*t.sharpness))
	for i, k := range g.blocks {
		out[k] = match{at: g.offsets[i] + shift, se: se, snr: snr}
	}
	return true
}

// mean returns the mean whitened sound of a side, over all blocks, from lead
// frames before the places given for n frames, weighed by the number of beats;
// places that are NaN are left out.
func (s *sheet) average(side int, at []float64, lead float64, n int) []float64 {
	sum := make([]float64, n)
	var weight float64
	for k := range s.blocks {
		weight += s.addTo(sum, side, k, at[k], lead)
	}
	for i := range sum {
		sum[i] /= math.Max(weight, 1)
	}
	return sum
}

// addTo adds a stack's beats to a sum, and returns their number. The places
// between frames are met by linear interpolation.
func (s *sheet) addTo(sum []float64, side, k int, at, lead float64) float64 {
	st := &s.blocks[k].Sides[side]
	if math.IsNaN(at) || st.Beats == 0 {
		return 0
	}
	place := at - lead + s.anchor[side] + st.Late + float64(s.pre)
	i := int(math.Floor(place))
	f := place - float64(i)
	if i < 0 || i+len(sum)+1 > st.Sound.Len() {
		return 0
	}
	w := float64(st.Beats)
	here, next := w*(1-f)*float64(st.Sound.unit), w*f*float64(st.Sound.unit)
	x := st.Sound.x[i : i+len(sum)+1]
	for j := range sum {
		sum[j] += here*float64(x[j]) + next*float64(x[j+1])
	}
	return w
}

// plain is the signal-to-noise ratio from which a match in a block is believed:
// among the hundred or so places looked at, noise reaches it once in a thousand
// blocks.
const plain = 4.5

// trace follows a contact of a side through all blocks, from rough places to a
// fraction of a frame, and returns its smoothed course in frames relative to the
// mark; ok is false where it could be followed in too few. It goes from the
// block in which the sound stands out most to both ends, with a template that
// learns on the way, and then over all of them with the mean of all.
func (s *sheet) trace(side int, rough []float64) (course, bool) {
	n := int(s.frames(templateSeconds))
	lead := s.frames(leadSeconds)
	start := s.clearest(side, rough, n)
	at := make([]float64, len(rough))
	for k := range at {
		at[k] = math.NaN()
	}
	sum := make([]float64, n)
	s.addTo(sum, side, start, rough[start], lead)
	at[start] = rough[start]
	for _, step := range []int{1, -1} {
		s.creep(side, rough, at, sum, lead, start, step)
	}
	first, ok := s.smooth(s.observe(side, at, at, lead, n, s.frames(0.1e-3)))
	if !ok {
		return first, false
	}
	// Where the template was not plain yet, it is now.
	for k, v := range at {
		if math.IsNaN(v) {
			at[k] = first.at[k]
		}
	}
	return s.smooth(s.observe(side, first.at, at, lead, n, s.frames(0.15e-3)))
}

// clearest returns the block in which the sound at the given places is loudest
// against the room.
func (s *sheet) clearest(side int, at []float64, n int) int {
	best, most := 0, float32(0)
	for k := range s.blocks {
		lo := s.bin(side, at[k])
		var sum float32
		for _, power := range s.power[side] {
			for j := max(0, lo); j < min(s.bins, lo+n/s.hop); j++ {
				sum += power[k][j]
			}
		}
		if sum > most {
			best, most = k, sum
		}
	}
	return best
}

// creep follows a sound from block to block in one direction, and where one block does
// not tell it, through several together. Where it should be next, the rough course says,
// as far as that was right so far.
func (s *sheet) creep(side int, rough, at, sum []float64, lead float64, start, step int) {
	const (
		memory = 0.97   // of the template, from block to block
		astray = 0.3e-3 // s by which the rough course may be off; farther, another sound is followed
	)
	sum = append([]float64(nil), sum...)
	longer := math.Max(1, s.period/ofPeriod)
	widest, most := s.frames(0.5e-3)*longer, s.frames(astray)*longer
	reach := int(math.Ceil(widest)) + 1
	off, wide := 0.0, s.frames(0.3e-3)
	found := make([]match, len(rough))
	var g gathering
	for k := start + step; k >= 0 && k < len(rough); k += step {
		t := newTemplate(sum, lead)
		if len(g.blocks) >= mostGathered {
			g = gathering{}
		}
		leap := math.Abs(rough[k] - rough[k-step]) // of the rough course, not of the sound
		if !s.gather(&g, t, side, k, rough[k]+off, reach) || !s.tell(found, &g, t, side, int(wide+leap)+1) {
			wide = math.Min(wide*1.05, widest)
			continue
		}
		off = math.Max(-most, math.Min(found[k].at-rough[k], most))
		wide = math.Max(wide*0.8, s.frames(0.12e-3))
		for _, b := range g.blocks {
			at[b] = found[b].at
			for i := range sum {
				sum[i] *= memory
			}
			s.addTo(sum, side, b, at[b], lead)
		}
		g = gathering{}
	}
}

// observe matches the mean sound at the given places with the blocks near it, as few of
// them together as tell it.
func (s *sheet) observe(side int, at, near []float64, lead float64, n int, reach float64) []match {
	t := newTemplate(s.average(side, at, lead, n), lead)
	out := make([]match, len(near))
	within := int(math.Ceil(reach)) + 1
	var g gathering
	for k := range near {
		out[k].snr = math.NaN()
		if math.IsNaN(near[k]) || !s.gather(&g, t, side, k, near[k], within) {
			continue
		}
		if s.tell(out, &g, t, side, within) || len(g.blocks) == mostGathered {
			g = gathering{}
		}
	}
	return out
}

// course is a contact's place in every block, its place.
type course struct {
	at      []float64
	se      []float64 // of at
	slope   []float64 // frames a second
	slopeSE []float64
	matches []match // by block; snr is NaN where it was not heard
	heard   float64 // in which part of the blocks it was
}

// shift moves a course to where its contact sets in, which is so many frames
// later than the place that was followed: only that goes in proportion to the lift.
func (c *course) shift(frames float64) {
	for k := range c.at {
		c.at[k] += frames
		c.matches[k].at += frames
	}
}

// heardAt returns where the contact was heard in each block, NaN where it was not.
func (c *course) heardAt() []float64 {
	at := make([]float64, len(c.matches))
	for k, m := range c.matches {
		at[k] = m.at
		if math.IsNaN(m.snr) {
			at[k] = math.NaN()
		}
	}
	return at
}

// heardEnough is in which part of the blocks a contact must be heard to be
// followed through all of them.
const heardEnough = 0.3

// smooth takes the matches of a contact to its course. What is smoothed is one over the
// square of the lift, which goes with the oscillator's energy: what that loses in a beat
// goes with itself, and what it is given with the torque, so it falls as evenly as the
// torque does up to the stop, while a lift grows ever faster, and no one time in which it
// may bend fits all of a run.
func (s *sheet) smooth(ms []match) (course, bool) {
	n := len(ms)
	c := course{matches: ms, at: make([]float64, n), se: make([]float64, n), slope: make([]float64, n), slopeSE: make([]float64, n)}
	side := s.after(ms)
	var obs []drift.Observation
	least := math.Inf(1)
	for k, m := range ms {
		if at := m.at * side; !math.IsNaN(m.snr) && at > 0 {
			obs = append(obs, drift.Observation{Time: s.time(k) / s.rate, Value: 1 / (at * at), SE: 2 * m.se / (at * at * at)})
			least = min(least, 1/(at*at))
		}
	}
	c.heard = float64(len(obs)) / float64(len(ms))
	if c.heard < heardEnough || len(obs) < 3 {
		return c, false
	}
	smoothed := drift.Smooth(obs, calm)
	j := 0
	for k := range ms {
		t := s.time(k) / s.rate
		for j+1 < len(obs) && obs[j+1].Time <= t {
			j++
		}
		e := smoothed[j]
		switch last := obs[len(obs)-1].Time; {
		case j+1 < len(obs) && t > obs[j].Time:
			e = drift.Between(e, smoothed[j+1], obs[j+1].Time-obs[j].Time, t-obs[j].Time)
		case t > last || t < obs[0].Time:
			beyond := math.Max(t-last, obs[0].Time-t)
			ahead := math.Max(-carried, math.Min(t-obs[j].Time, carried))
			e.Level += e.Slope * ahead
			e.LevelSE = math.Hypot(e.LevelSE, math.Hypot(ahead*e.SlopeSE, e.Slope*(beyond*beyond/2/usually+math.Max(0, beyond-carried))))
			e.SlopeSE = math.Hypot(e.SlopeSE, e.Slope*beyond/usually)
		}
		y := math.Max(e.Level, least/4)
		c.at[k] = side / math.Sqrt(y)
		by := 1 / (2 * y * math.Sqrt(y)) // how much the place moves with y
		c.se[k], c.slope[k], c.slopeSE[k] = by*e.LevelSE, -side*by*e.Slope, by*e.SlopeSE
	}
	return c, true
}

// after returns 1 for the matches of a contact that comes after the mark, −1 before it.
func (s *sheet) after(ms []match) float64 {
	n := 0
	for _, m := range ms {
		switch {
		case math.IsNaN(m.snr):
		case m.at > 0:
			n++
		default:
			n--
		}
	}
	return math.Copysign(1, float64(n))
}

// carried is for how long a slope is carried on beyond where a contact was followed, s:
// before a stop, the energy falls evenly for about as long.
const carried = 20

// usually is the time in which the slope of the energy may double beyond where a lift
// was followed, s.
const usually = 20

// calm is the time over which the energy may bend at the least, s: its changes take
// longer, and what is faster is noise.
const calm = 5
