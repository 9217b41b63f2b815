package contacts

import (
	"math"

	"rundown/analysis/drift"
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

// match looks for the template within reach frames of a place in a stack.
func (s *sheet) match(t *template, side, k int, near, reach float64) (match, bool) {
	r := int(math.Ceil(reach)) + 1
	beats := s.blocks[k].Sides[side].Beats
	x, first := s.at(side, k, near-t.lead-float64(r), len(t.sound)+2*r)
	if x == nil || beats == 0 || t.norm == 0 {
		return match{}, false
	}
	var before, here, top float64
	best := -1
	corr := make([]float64, 2*r+1)
	for l := range corr {
		var sum float64
		for i, v := range t.sound {
			sum += v * float64(x[l+i])
		}
		corr[l] = sum
		if sum > top {
			best, top = l, sum
		}
	}
	if best <= 0 || best >= 2*r {
		return match{}, false
	}
	before, here, after := corr[best-1], corr[best], corr[best+1]
	shift := 0.0
	if d := before - 2*here + after; d < 0 {
		shift = (before - after) / 2 / d
	}
	snr := here / t.norm * math.Sqrt(float64(beats)/s.room[side])
	return match{
		at:  first + t.lead + float64(best) + shift,
		se:  1 / (snr * t.sharpness),
		snr: snr,
	}, true
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
	if i < 0 || i+len(sum)+1 > len(st.Sound) {
		return 0
	}
	w := float64(st.Beats)
	for j := range sum {
		sum[j] += w * ((1-f)*float64(st.Sound[i+j]) + f*float64(st.Sound[i+j+1]))
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

// creep follows a sound from block to block in one direction. Where it should be
// next, the rough course says, as far as that was right so far.
func (s *sheet) creep(side int, rough, at, sum []float64, lead float64, start, step int) {
	const memory = 0.97 // of the template, from block to block
	sum = append([]float64(nil), sum...)
	off, wide := 0.0, s.frames(0.3e-3)
	for k := start + step; k >= 0 && k < len(rough); k += step {
		near := rough[k] + off
		leap := math.Abs(rough[k] - rough[k-step]) // of the rough course, not of the sound
		m, ok := s.match(newTemplate(sum, lead), side, k, near, wide+leap)
		if !ok || m.snr < plain {
			wide = math.Min(wide*1.2, s.frames(0.5e-3))
			continue
		}
		at[k] = m.at
		off += m.at - near
		wide = math.Max(wide*0.8, s.frames(0.12e-3))
		for i := range sum {
			sum[i] *= memory
		}
		s.addTo(sum, side, k, m.at, lead)
	}
}

// observe matches the mean sound at the given places with every block near it.
func (s *sheet) observe(side int, at, near []float64, lead float64, n int, reach float64) []match {
	t := newTemplate(s.average(side, at, lead, n), lead)
	out := make([]match, len(near))
	for k := range near {
		out[k].snr = math.NaN()
		if math.IsNaN(near[k]) {
			continue
		}
		if m, ok := s.match(t, side, k, near[k], reach); ok && m.snr >= plain {
			out[k] = m
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

// heardEnough is in which part of the blocks a contact must be heard to be
// followed through all of them.
const heardEnough = 0.3

// smooth takes the matches of a contact to its course.
func (s *sheet) smooth(ms []match) (course, bool) {
	n := len(ms)
	c := course{matches: ms, at: make([]float64, n), se: make([]float64, n), slope: make([]float64, n), slopeSE: make([]float64, n)}
	var obs []drift.Observation
	for k, m := range ms {
		if !math.IsNaN(m.snr) {
			obs = append(obs, drift.Observation{Time: s.time(k) / s.rate, Value: m.at, SE: m.se})
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
		ahead := math.Max(-carried, math.Min(t-obs[j].Time, carried))
		c.at[k], c.se[k] = e.Level+e.Slope*ahead, e.LevelSE
		c.slope[k], c.slopeSE[k] = e.Slope, e.SlopeSE
		if beyond := math.Max(t-obs[len(obs)-1].Time, obs[0].Time-t); beyond > 0 {
			c.slopeSE[k] = math.Hypot(c.slopeSE[k], c.slope[k]*beyond/usually)
		}
	}
	return c, true
}

// carried is for how long a slope is carried on beyond where a contact was followed,
// s.
const carried = 5

// usually is the time in which the slope of a lift may double beyond where it was
// followed, s.
const usually = 20

// calm is the time over which a lift may bend at the least, s: changes of
// amplitude take longer, and what is faster is noise.
const calm = 5
