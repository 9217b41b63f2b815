package beat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// steady is a stretch of sound made ready for folding as it is, not as its
// loudness: whitened from moment to moment, so that no noise is louder than any
// other, and with fewer samples. Sounds that are alike and come evenly to a
// fraction of a millisecond add up in it, and nothing else does.
type steady struct {
	x      []float32 // about unit variance
	every  int       // frames a sample
	perSec float64   // samples a second
	folder folder
}

// The frequencies folded, in hertz: above, even good movements scatter by too
// much of a cycle; below, rooms are loud and mechanisms are not.
const (
	steadyFrom = 900
	steadyTo   = 5000
)

// newSteady makes a stretch x at a sample rate ready.
func newSteady(x []float32, rate float64) *steady {
	s := &steady{every: 1}
	for rate/float64(2*s.every) > 2.1*steadyTo {
		s.every *= 2
	}
	s.perSec = rate / float64(s.every)
	s.whiten(x, rate)
	// Noise is now as loud at any time as at another; what stands out of it is
	// clipped, so that no few sounds make up a sum.
	if scale(s.x) {
		for i, v := range s.x {
			s.x[i] = max(-3, min(3, v))
		}
		scale(s.x)
	}
	return s
}

// whiten sets s.x to the sound of x in pieces that overlap, each with all
// frequencies as loud as any other, and fewer samples.
func (s *steady) whiten(x []float32, rate float64) {
	// A beat is short in a piece, and a piece in a bark.
	size := s.every * 512
	for float64(size) < 0.04*rate {
		size *= 2
	}
	hop, out := size/2, size/s.every
	hann := window.Hann(slices.Repeat([]float64{1}, size))
	fft, back := fourier.NewFFT(size), fourier.NewFFT(out)
	piece, c := make([]float64, size), make([]complex128, size/2+1)
	sums := make([]float64, size/2+2) // of the power below each frequency
	narrow, y := make([]complex128, out/2+1), make([]float64, out)
	perHz := float64(size) / rate
	from, to := int(steadyFrom*perHz), min(int(steadyTo*perHz), out/2-1)
	around := max(2, int(100*perHz)) // narrow, so that tones are no louder either
	s.x = make([]float32, (len(x)/hop+2)*hop/s.every)
	for at := 0; at+size <= len(x); at += hop {
		for i, v := range x[at : at+size] {
			piece[i] = hann[i] * float64(v)
		}
		fft.Coefficients(c, piece)
		for k, v := range c {
			sums[k+1] = sums[k] + real(v)*real(v) + imag(v)*imag(v)
		}
		clear(narrow)
		for k := from; k <= to; k++ {
			a, b := max(0, k-around), min(len(c), k+around+1)
			if p := (sums[b] - sums[a]) / float64(b-a); p > 1e-20 {
				narrow[k] = c[k] / complex(math.Sqrt(p), 0)
			}
		}
		back.Sequence(y, narrow)
		for i, v := range y {
			s.x[at/s.every+i] += float32(v)
		}
	}
}

// scale makes x of unit variance; false if it is all zero.
func scale(x []float32) bool {
	sd := float32(deviation(x))
	if sd == 0 {
		return false
	}
	for i, v := range x {
		x[i] = v / sd
	}
	return true
}

// span is how many samples of a beat's sound are taken together.
func (s *steady) span() int { return int(0.005 * s.perSec) }

// folds is sound folded at one period.
type folds struct {
	period  float64   // samples
	rows    int       // periods folded
	profile []float32 // their sum, by place in the period
	peak    int       // where the span of most energy begins
	z       float64   // how much that stands out: energy, in standard deviations of noise
}

// fold folds at the periods of which there are p whole samples, and returns the
// one at which the folded sound stands out most.
func (s *steady) fold(p int) folds {
	best := folds{rows: len(s.x) / p}
	if best.rows < 8 || p < 4*s.span() {
		return best
	}
	sums, m := s.folder.sums(s.x, p)
	top := 0
	for row := range m {
		at, e := loudest(sums[row*p:][:p], s.span())
		if z := s.z(e, best.rows); z > best.z {
			best.z, best.peak, top = z, at, row
		}
	}
	best.period = float64(p) + float64(top)/float64(max(1, m-1))
	best.profile = slices.Clone(sums[top*p:][:p])
	return best
}

// z returns by how many standard deviations of noise an energy of a span in a
// sum of so many rows is more than that of noise.
func (s *steady) z(energy float64, rows int) float64 {
	n := float64(s.span())
	return (energy/float64(max(1, rows)) - n) / math.Sqrt(2*n)
}

// loudest returns where in x the n values of most energy begin, and their energy.
func loudest(x []float32, n int) (at int, energy float64) {
	var e float64
	for i, v := range x {
		e += float64(v) * float64(v)
		if i >= n {
			e -= float64(x[i-n]) * float64(x[i-n])
		}
		if e > energy {
			at, energy = max(0, i-n+1), e
		}
	}
	return at, energy
}

// leastSteady is by how many standard deviations folded sound must stand out.
const leastSteady = 30

// beats looks for two sounds that come again and again, half a period apart, and
// returns the period and where the two begin in the first one. The period is 0 if
// nothing comes again and again; it may be that of one sound, or of hum.
func (s *steady) beats() (period float64, at [2]float64, ok bool) {
	var best folds
	for _, r := range s.periods() {
		if f := s.fold(int(r.period)); f.z > best.z {
			best = f
		}
	}
	if best.z < leastSteady {
		return 0, at, false
	}
	whole := best.period
	for k := 2.0; k <= 5; k++ {
		if f := s.fold(int(whole / k)); f.z > best.z {
			best = f
		}
	}
	if twice := s.fold(int(2 * best.period)); s.alternation(twice) > leastAlternation {
		best = twice
	}
	other, z := s.other(best)
	if best.period < shortestPeriod*s.perSec || best.period > longestPeriod*s.perSec || z < leastOther || !s.compact(best, other) {
		return best.period, at, false
	}
	at = [2]float64{float64(best.peak), float64(other)}
	return best.period, at, s.throughout(best.period, at) < mostByChance
}

// leastAlternation is by how much the two sides' sounds differ: they are far from
// alike to a few degrees of phase, and what of the noise comes every other time
// is far less than they are.
const leastAlternation = 0.3

// leastOther is leastSteady for the other side, of which it is known where to
// look.
const leastOther = 10

// mostByChance is the natural logarithm of the chance below which beats are not
// of noise; it allows for all the periods and places that were looked at.
const mostByChance = -32

// alternation returns by how much two halves of the period sound differently
// where they are loudest, or are apart by more or less than half a period: the
// energy of their difference over that of their sum, 0 where it may be noise.
func (s *steady) alternation(f folds) float64 {
	n := len(f.profile)
	if n == 0 {
		return 0
	}
	var sum, difference float64
	half := f.period / 2
	if float64(f.peak) > half {
		half = -half // the profile may be shorter than the period by part of a sample
	}
	for i := range s.span() {
		a := float64(f.profile[(f.peak+i)%n])
		b := f.value(float64(f.peak+i) + half)
		sum += (a + b) * (a + b) / 2
		difference += (a - b) * (a - b) / 2
	}
	d := s.z(difference, f.rows)
	if d < 8 {
		return 0
	}
	return d / s.z(sum, f.rows)
}

// value returns the profile between its samples: by a sine over its argument,
// under a Hann window.
func (f folds) value(place float64) float64 {
	const reach = 10 // samples either side
	n := len(f.profile)
	first := int(place) - reach + 1
	var sum float64
	for i := first; i < first+2*reach; i++ {
		d := math.Pi * (place - float64(i))
		w := 1.0
		if d != 0 {
			w = math.Sin(d) / d * (0.5 + 0.5*math.Cos(d/reach))
		}
		sum += w * float64(f.profile[(i+n)%n])
	}
	return sum
}

// other returns where from a third to two thirds of a period after the peak the
// folded sound is loudest, and by how much it stands out.
func (s *steady) other(f folds) (at int, z float64) {
	n := len(f.profile)
	from, to := int(0.31*f.period), int(0.69*f.period)
	part := make([]float32, to-from)
	for i := range part {
		part[i] = f.profile[(f.peak+from+i)%n]
	}
	p, e := loudest(part, s.span())
	return (f.peak + from + p) % n, s.z(e, f.rows)
}

// throughout returns the natural logarithm of the chance that so many of the
// beats of a period, at two places in it, are more like the sum of the others
// than unlike it. A few loud sounds that happen to come a period apart make a
// large sum, and no more.
func (s *steady) throughout(period float64, at [2]float64) float64 {
	n := s.span()
	beats, alike := 0, 0
	for _, first := range at {
		sum := make([]float32, n)
		var rows [][]float32
		for from := first; int(from+0.5)+n <= len(s.x); from += period {
			row := s.x[int(from+0.5):][:n]
			rows = append(rows, row)
			add(sum, sum, row)
		}
		for _, row := range rows {
			var likeness float32
			for i, v := range row {
				likeness += v * (sum[i] - v)
			}
			if beats++; likeness > 0 {
				alike++
			}
		}
	}
	return logBinomialTail(beats, alike, 0.5)
}

// compact tells whether what stands out is the two beats, and not all of the
// period: hum, and sounds of which a recorder plays the same stretch over and
// over, stand out everywhere.
func (s *steady) compact(f folds, other int) bool {
	const near = 0.07 // of the period
	n := len(f.profile)
	reach := int(near * f.period)
	var beats, rest float64
	for i, v := range f.profile {
		e := float64(v)*float64(v)/float64(f.rows) - 1
		d := min((i-f.peak+n)%n, (f.peak-i+n)%n, (i-other+n)%n, (other-i+n)%n)
		if d <= reach {
			beats += e
		} else {
			rest += e
		}
	}
	return rest < 0.5*beats+5*math.Sqrt(2*float64(n))
}
