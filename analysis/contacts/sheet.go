package contacts

import (
	"math"
	"slices"

	"rundown/dsp/filter"
	"rundown/dsp/parallel"
)

// sheet is the sound of a whole run, block by block, whitened.
type sheet struct {
	rate   float64 // Hz
	period float64 // of the oscillator, s
	pre    int     // frames before the mark
	hop    int     // frames a bin
	bins   int
	blocks []Block // whitened
	bands  []*filter.Band
	// ringing[side] takes out of the whitened sound what follows from what rang before, which
	// leaves the innovations: in them, a contact is short, whatever rings on beneath it.
	ringing [2]*Whitener
	// power[side][band][k][j] is the mean square of bin j of block k in a band, in
	// units of the room's in a stack of as many beats; after the bands come the innovations.
	power [2][][][]float32
	room  [2]float64 // mean square of the whitened room, in units of what it was taken for
	// anchor[side] is where the sound that marks the beat sets in, frames from
	// the mark; places are told from there.
	anchor [2]float64
}

// binSeconds is how finely sounds are first told apart.
const binSeconds = 1e-4

// Sounds are heard in octaves from highest down to deepest, Hz, as far as the
// sample rate goes: a contact excites all of them at once; two notes that beat
// against each other swell in one.
const (
	highest = 14400
	deepest = 1300
)

// newSheet whitens the blocks in place.
func newSheet(blocks []Block, pre int, rate float64, w *Whitener, period float64) *sheet {
	s := &sheet{rate: rate, period: period, pre: pre, hop: max(1, int(math.Round(binSeconds*rate))), blocks: blocks}
	s.bins = blocks[0].Sides[0].Sound.Len() / s.hop
	for hz := math.Min(highest, 0.34*rate); hz >= deepest; hz /= 2 {
		s.bands = append(s.bands, filter.NewBand(hz, 1, rate))
	}
	parallel.Each(len(s.power), func(side int) { s.whiten(side, w) })
	return s
}

// whiten whitens the blocks of a side and takes their power.
func (s *sheet) whiten(side int, w *Whitener) {
	s.power[side] = make([][][]float32, len(s.bands)+1)
	for b := range s.power[side] {
		s.power[side][b] = make([][]float32, len(s.blocks))
	}
	n := s.blocks[0].Sides[side].Sound.Len()
	sound, white := make([]float32, n), make([]float32, 0, n)
	var squares []float64
	for k := range s.blocks {
		st := &s.blocks[k].Sides[side]
		st.Sound.Decode(sound)
		white = w.Append(white[:0], sound)
		st.Sound.Encode(white)
		for b, f := range s.bands {
			s.power[side][b][k] = s.binned(f.Filter(white), st.Beats)
		}
		if st.Beats > 0 {
			squares = append(squares, quietPower(white, s.hop)*float64(st.Beats))
		}
	}
	s.room[side] = 1
	if len(squares) > 0 {
		s.room[side] = median(squares)
	}
	s.ringing[side] = predictionError(s.autocorrelation(side))
	for k := range s.blocks {
		st := &s.blocks[k].Sides[side]
		st.Sound.Decode(sound)
		white = s.ringing[side].Append(white[:0], sound)
		s.power[side][len(s.bands)][k] = s.binned(white, st.Beats)
	}
	for b := range s.power[side] {
		s.normalise(s.power[side][b])
	}
}

// autocorrelation returns that of the whitened sound of a side, room and all, at the lags of a
// prediction-error filter.
func (s *sheet) autocorrelation(side int) []float64 {
	r := make([]float64, whitening+1)
	x := make([]float32, s.blocks[0].Sides[side].Sound.Len())
	for k := range s.blocks {
		st := &s.blocks[k].Sides[side]
		st.Sound.Decode(x)
		for lag := range r {
			r[lag] += float64(st.Beats) * float64(blas.Sdot(len(x)-lag, x[lag:], 1, x, 1))
		}
	}
	return r
}

// width returns how much of the spectrum a band passes, Hz. The innovations have all of what
// was recorded, and fade as what is heard in the highest octave at the most.
func (s *sheet) width(band int) float64 {
	if band == len(s.bands) {
		band = 0
	}
	return s.bands[band].Centre / s.bands[band].Q
}

// quietPower returns the mean square of a whitened sound between the sounds of a
// beat, which fill less than half of it: the median of that of its parts.
func quietPower(x []float32, part int) float64 {
	part *= 8
	var out []float64
	for ; len(x) >= part; x = x[part:] {
		var sum float64
		for _, v := range x[:part] {
			sum += float64(v) * float64(v)
		}
		out = append(out, sum/float64(part))
	}
	if len(out) == 0 {
		return 0
	}
	slices.Sort(out)
	return out[len(out)/3]
}

// binned returns the power of each bin of the mean of so many beats, times their number.
func (s *sheet) binned(x []float32, beats int) []float32 {
	out := make([]float32, s.bins)
	scale := float32(beats) / float32(s.hop)
	for j := range out {
		var sum float32
		for _, v := range x[j*s.hop : (j+1)*s.hop] {
			sum += v * v
		}
		out[j] = sum * scale
	}
	return out
}

// normalise puts power into units of the room's: what a third of the bins have
// less of, in the mean of all blocks, is the room.
func (s *sheet) normalise(power [][]float32) {
	sum := make([]float64, s.bins)
	for _, x := range power {
		for j, v := range x {
			sum[j] += float64(v)
		}
	}
	slices.Sort(sum)
	room := sum[len(sum)/3] / float64(len(power))
	if room <= 0 {
		return
	}
	scale := float32(1 / room)
	for _, x := range power {
		for j := range x {
			x[j] *= scale
		}
	}
}

// frames turns seconds into frames.
func (s *sheet) frames(seconds float64) float64 { return seconds * s.rate }

// span turns seconds into bins, at least one.
func (s *sheet) span(seconds float64) int {
	return max(1, int(math.Round(seconds*s.rate/float64(s.hop))))
}

// apart is the distance from the anchor below which no sound is told from it, s: any two
// contacts lie farther apart. Of a balance, no lift is shorter than that of the least lift angle
// at the greatest amplitude, and no impulse nearer to its end than the latest.
func (s *sheet) apart() float64 {
	if s.period < SlowestBalance {
		return math.Max(0.8e-3, (1-latestImpulse)*s.period*math.Asin(leastAngle/2/Knocks(leastAngle))/math.Pi)
	}
	return math.Max(0.8e-3, 0.0025*s.period)
}

// bin returns the bin of a side in which a place lies.
func (s *sheet) bin(side int, place float64) int {
	return int(math.Floor((place + s.anchor[side] + float64(s.pre)) / float64(s.hop)))
}

// place returns where a bin of a side begins.
func (s *sheet) place(side, bin int) float64 {
	return float64(bin*s.hop-s.pre) - s.anchor[side]
}

// at returns the whitened sound of a block from a place on, to the nearest frame,
// n samples of it; none where the stack does not hold them. exact is the place of
// the first of them.
func (s *sheet) at(side, k int, place float64, n int) (x Coded, exact float64) {
	st := &s.blocks[k].Sides[side]
	from := s.anchor[side] + st.Late + float64(s.pre)
	i := int(math.Round(place + from))
	if i < 0 || i+n > st.Sound.Len() {
		return Coded{}, 0
	}
	return Coded{st.Sound.x[i : i+n], st.Sound.unit}, float64(i) - from
}

// time returns the mean instant of a block's beats, frames.
func (s *sheet) time(k int) float64 {
	a, b := &s.blocks[k].Sides[0], &s.blocks[k].Sides[1]
	return (a.Time*float64(a.Beats) + b.Time*float64(b.Beats)) / float64(max(1, a.Beats+b.Beats))
}
