package contacts

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"

	"rundown/dsp/parallel"
)

// profile is the power of a side's sound in one band over a whole run, each block
// drawn out by as much as its lift is longer than that of the run's middle, so
// that every contact lies in one place.
type profile struct {
	power []float64 // by bin, in units of the room's in a single beat, which is taken off
	sd    []float64 // its standard deviation in noise; infinite where there is too little sound
}

// outlying is by how many times more than in the mean, and than the room, a sound may be
// heard in one block: a few beats that were marked by another of their sounds, or on which
// a door was slammed, are no sound of the movement's.
const outlying = 10

// lay lays the blocks over each other in one band. scale is by how much each is
// drawn out.
func (s *sheet) lay(side, band int, scale []float64) profile {
	p := profile{power: make([]float64, s.bins), sd: make([]float64, s.bins)}
	weight, blocks := make([]float64, s.bins), make([]float64, s.bins)
	s.drawn(side, band, scale, func(from int, row []float64, n float64) {
		for i, x := range row {
			p.power[from+i] += x
			weight[from+i] += n
			blocks[from+i]++
		}
	})
	most := make([]float64, s.bins)
	for i, w := range weight {
		most[i] = outlying * p.power[i] / math.Max(w, 1)
		p.power[i] = 0
	}
	s.drawn(side, band, scale, func(from int, row []float64, n float64) {
		for i, x := range row {
			p.power[from+i] += min(x, n*most[from+i]+outlying)
		}
	})
	all := slices.Max(weight)
	for i, w := range weight {
		if w < all/4 || w == 0 {
			p.power[i], p.sd[i] = 0, math.Inf(1)
			continue
		}
		// A band of quality 1 passes its centre frequency's worth of Hz: in a bin,
		// one or two independent values.
		p.power[i] /= w
		p.sd[i] = math.Sqrt(1.5*blocks[i]) / w
	}
	return p
}

// drawn calls add with what each block of so many beats has in the bins from one on when it is
// drawn out: the power of all of its beats, in units of the room's in one, which is taken off. The
// row is good until add returns.
func (s *sheet) drawn(side, band int, scale []float64, add func(from int, row []float64, beats float64)) {
	zero := (s.anchor[side] + float64(s.pre)) / float64(s.hop)
	row := make([]float64, s.bins)
	for k, x := range s.power[side][band] {
		n := float64(s.blocks[k].Sides[side].Beats)
		if n == 0 {
			continue
		}
		from, to := s.bins, s.bins
		for i := range s.bins {
			at := (float64(i)-zero)*scale[k] + zero
			if at < 0 {
				continue
			}
			j := int(at)
			if j+1 >= s.bins {
				to = i
				break
			}
			from = min(from, i)
			f := at - float64(j)
			row[i] = (1-f)*float64(x[j]) + f*float64(x[j+1]) - 1
		}
		if from < to {
			add(from, row[from:to], n)
		}
	}
}

// arrival is a sound that sets in in a profile.
type arrival struct {
	at     float64 // frames from the anchor, at the run's middle
	power  float64 // of its first third of a millisecond, all bands together, in units of the room's in one of them
	sudden float64 // how suddenly it sets in: about χ² of as many degrees of freedom as there are bands, for what rings on
	apart  bool    // it stands out of all that went before, in most beats: it is nothing that rings on
}

// A sound that rings on, in the mechanism or in the room, swells and fades as
// Gaussian noise does. An arrival sets in more suddenly than that does with the
// probability swells, or it is louder by so much than all that went before, and
// by so many standard deviations of the room. It is no weaker than so much of the
// strongest one, or than so much if it stands apart, for a dull sound fills less of the octaves
// than a sharp one; one that is fainter than an unlocking sets in suddenly, or stands apart.
const (
	swells     = 1e-2
	leastAbove = 4
	leastClear = 6
	leastPower = 1. / 500
	leastApart = 1. / 2000
)

// leastAboveMoving is leastAbove for the first sound of a beat where the lift changes so much
// that what does not move with it is no sound in one place.
const leastAboveMoving = 2

// stillRings is for how long before the first sound of a beat nothing is to be so loud, s.
const stillRings = 10e-3

// leastSudden is what the sum of the squares of n standard normal values, of
// those above 0, exceeds with a probability (chi-bar-square: A. Kudô, Biometrika 50, 1963).
func leastSudden(n int, probability float64) float64 {
	tail := func(x float64) (p float64) {
		for k := 1; k <= n; k++ {
			p += combin.GeneralizedBinomial(float64(n), float64(k)) * math.Pow(0.5, float64(n)) * distuv.ChiSquared{K: float64(k)}.Survival(x)
		}
		return p
	}
	lo, hi := 0.0, 100.0
	for range 40 {
		if mid := (lo + hi) / 2; tail(mid) > probability {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// The power of an arrival is compared over these times from there on and before. One that is
// dull takes longer to rise: it is told by the longer ones.
const (
	afterSeconds  = 0.35e-3
	beforeSeconds = 0.8e-3
	longSeconds   = 1.2e-3
)

// rises are the times after and before a place over which suddenness is told, s.
var rises = [...][2]float64{{afterSeconds, beforeSeconds}, {longSeconds, longSeconds}}

// fading returns the standard deviation of the logarithm of the ratio of the
// powers after and before a place, over times in seconds, for Gaussian noise in a band so many
// Hz wide: a mean of n independent values has a logarithm of variance ψ′(n).
func fading(width, after, before float64) float64 {
	return math.Sqrt(trigamma(width*after) + trigamma(width*before))
}

// trigamma is the second derivative of the logarithm of the gamma function
// (Hurwitz's zeta function at 2).
func trigamma(x float64) float64 { return mathext.Zeta(2, x) }

// outline is how a side's sound goes, at the run's middle, bin by bin.
type outline struct {
	scale  []float64 // by how much each block is drawn out
	sudden []float64 // about χ², of as many degrees of freedom as there are bands: the greatest of all rises
	level  []float64 // power of the next third of a millisecond
	sd     []float64 // of level, in the room's noise
}

// moves reports whether the lift changes so much over the run that only what moves with
// it stays sharp when the blocks are laid over each other.
func (o *outline) moves() bool {
	const much = 1.2
	return slices.Max(o.scale) > much*slices.Min(o.scale)
}

// outlineBoth lays all blocks of either side over each other.
func (s *sheet) outlineBoth(scale []float64) (both [2]outline) {
	parallel.Each(len(both), func(side int) { both[side] = s.outline(side, scale) })
	return both
}

// outline lays all blocks of a side over each other, each drawn out by its scale.
func (s *sheet) outline(side int, scale []float64) outline {
	o := outline{scale, make([]float64, s.bins), make([]float64, s.bins), make([]float64, s.bins)}
	var sudden [len(rises)][]float64
	for rise := range sudden {
		sudden[rise] = make([]float64, s.bins)
	}
	after, before := s.span(afterSeconds), s.span(beforeSeconds)
	for band := range s.power[side] {
		p := s.lay(side, band, scale)
		for rise, times := range rises {
			s.addSudden(sudden[rise], &p, s.width(band), times)
		}
		if band == len(s.bands) {
			break // how loud a sound is, the octaves tell
		}
		for i := before; i+after <= s.bins; i++ {
			if sd := mean(p.sd[i-before : i+after]); !math.IsInf(sd, 1) {
				o.level[i] += mean(p.power[i : i+after])
				o.sd[i] = math.Hypot(o.sd[i], sd/math.Sqrt(float64(after)))
			}
		}
	}
	for i := range o.sudden {
		for rise := range sudden {
			o.sudden[i] = math.Max(o.sudden[i], sudden[rise][i])
		}
	}
	return o
}

// addSudden adds to sums the squares of how suddenly the sound of a band sets in, by the times
// after and before each bin, in standard deviations of what rings on.
func (s *sheet) addSudden(sums []float64, p *profile, width float64, times [2]float64) {
	after, before := s.span(times[0]), s.span(times[1])
	fades := fading(width, times[0], times[1])
	for i := before; i+after <= s.bins; i++ {
		sd := mean(p.sd[i-before : i+after])
		if math.IsInf(sd, 1) {
			continue
		}
		a, b := math.Max(mean(p.power[i:i+after]), 0), math.Max(mean(p.power[i-before:i]), 0)
		if z := math.Log((a+3*sd)/(b+3*sd)) / fades; z > 0 {
			sums[i] += z * z
		}
	}
}

// arrivals returns the sounds of a side that set in, in order. both are the
// outlines of the two sides: what sets in on both at the same place needs to do so
// less suddenly on either. Which places are the same, the plain sounds of both tell: the
// sides may be marked by different contacts.
func (s *sheet) arrivals(side int, both [2]outline) []arrival {
	off := sideOffset(s.arrivalsBeside(side, both, math.NaN()), s.arrivalsBeside(1-side, both, math.NaN()), s.frames(nearby))
	return s.arrivalsBeside(side, both, off)
}

// sideOffset returns by how many frames the sounds of another side come later than those of
// one: of all distances of two of them, the one by which most fall together, by how
// suddenly they set in.
func sideOffset(own, other []arrival, near float64) float64 {
	best, most := 0.0, 0.0
	for _, a := range own {
		for _, b := range other {
			off, sum := b.at-a.at, 0.0
			for _, x := range own {
				for _, y := range other {
					if math.Abs(y.at-x.at-off) < near {
						sum += math.Min(x.sudden, y.sudden)
					}
				}
			}
			if sum > most {
				best, most = off, sum
			}
		}
	}
	return best
}

// arrivalsBeside returns the sounds of a side that set in, where those of the other side
// come so many frames later; NaN where that is not known, and only plain ones count.
func (s *sheet) arrivalsBeside(side int, both [2]outline, off float64) []arrival {
	after, fine := s.span(afterSeconds), s.span(0.5e-3)
	o := both[side]
	alone, together := leastSudden(len(s.power[side]), swells/float64(len(rises))), leastSudden(2*len(s.power[side]), swells/float64(len(rises)))
	var out []arrival
	loudest, most := 0.0, 0.0 // so far; of all arrivals
	first := float64(leastAbove)
	if o.moves() {
		first = leastAboveMoving
	}
	begins := slices.IndexFunc(o.sd, func(sd float64) bool { return sd > 0 })
	for i := after + fine; i+after <= s.bins; i++ {
		loudest = math.Max(loudest, o.level[i-after-fine])
		least, long := float64(leastAbove), true
		if len(out) == 0 { // what rings on from the beat before dies away
			least = first
			from := i - after - fine - s.span(stillRings)
			loudest = slices.Max(o.level[max(0, from) : i-after-fine+1])
			long = begins >= 0 && from >= begins // else nothing is known of what went before
		}
		summit := i
		for j := i; j < min(s.bins, i+s.span(0.6e-3)); j++ { // a dull sound takes that long to rise
			if o.level[j] > o.level[summit] {
				summit = j
			}
		}
		top := o.level[summit]
		clear := top >= leastClear*o.sd[i] && o.sd[i] > 0
		above := long && top >= least*math.Max(loudest, 2*o.sd[i])
		if !clear || !peaks(o.sudden, i, fine) {
			continue
		}
		if !above && o.sudden[i] < alone {
			if math.IsNaN(off) {
				continue
			}
			other, _ := s.about(1-side, both[1-side], s.place(side, i)+off, 0.15e-3)
			if math.Min(o.sudden[i], other) < together/4 || o.sudden[i]+other < together {
				continue
			}
		}
		out = append(out, arrival{at: s.place(side, i), power: top, sudden: o.sudden[i], apart: above && s.usual(side, summit, o)})
		most = math.Max(most, top)
	}
	return sharpest(slices.DeleteFunc(out, func(a arrival) bool {
		return a.power < leastApart*most || !a.apart && (a.power < leastPower*most || a.power < faintest*most && a.sudden < alone)
	}))
}

// usual reports whether what sets in at a bin of an outline is of most beats, and not of a few
// that were marked by another of their sounds: of the middle half of the beats, by how loud
// it is in their blocks, the mean is at least half that of all. In noise, no one block tells.
func (s *sheet) usual(side, bin int, o outline) bool {
	type power struct{ mean, beats float64 }
	var powers []power
	place := s.place(side, bin)
	var sum, all float64
	for k := range s.blocks {
		n := float64(s.blocks[k].Sides[side].Beats)
		from := s.bin(side, place*o.scale[k])
		if n == 0 || from < 0 || from+s.span(afterSeconds) > s.bins {
			continue
		}
		p := power{0, n}
		for band := range s.bands {
			for _, v := range s.power[side][band][k][from : from+s.span(afterSeconds)] {
				p.mean += (float64(v) - 1) / n
			}
		}
		powers = append(powers, p)
		sum, all = sum+n*p.mean, all+n
	}
	slices.SortFunc(powers, func(a, b power) int { return cmp.Compare(a.mean, b.mean) })
	passed, middle := 0.0, 0.0
	for _, p := range powers {
		from, to := math.Max(passed, all/4), math.Min(passed+p.beats, all*3/4)
		middle += p.mean * math.Max(0, to-from)
		passed += p.beats
	}
	return middle > sum/4
}

// sharpest returns the arrivals that set in most suddenly, as many as a beat and its echoes
// may have, in order of place: where clicks were made, with silence between them, there are
// thousands.
func sharpest(as []arrival) []arrival {
	const most = 24
	if len(as) <= most {
		return as
	}
	slices.SortStableFunc(as, func(a, b arrival) int { return cmp.Compare(b.sudden, a.sudden) })
	as = as[:most]
	slices.SortFunc(as, func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
	return as
}

// about returns how suddenly a side's sound sets in within near seconds of a place,
// and by how many standard deviations it stands out of the room there.
func (s *sheet) about(side int, o outline, place, near float64) (sudden, clear float64) {
	for i := max(0, s.bin(side, place)-s.span(near)); i <= min(s.bins-1, s.bin(side, place)+s.span(near)); i++ {
		if o.sd[i] > 0 && o.sudden[i] > sudden {
			sudden, clear = o.sudden[i], o.level[i]/o.sd[i]
		}
	}
	return sudden, clear
}

func peaks(x []float64, i, reach int) bool {
	for j := max(0, i-reach); j < min(len(x), i+reach+1); j++ {
		if x[j] > x[i] || x[j] == x[i] && j < i {
			return false
		}
	}
	return true
}

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
