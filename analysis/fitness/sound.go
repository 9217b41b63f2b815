package fitness

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"rundown/analysis"
	"rundown/analysis/acquisition"
	"rundown/analysis/beat"
	"rundown/dsp/stats"
)

// sound is half a minute of one channel, and what was heard in it.
type sound struct {
	x     []float32
	y     []float32 // x in the band in which beats are heard
	rate  float64
	run   *analysis.Result
	heard *heard
	gaps  []interval // from each beat heard to the next
	all   *spectra

	peaks [2]float64 // of either side's beats, median
	noise float64    // RMS of y between the beats
	low   float64    // RMS below lowest, without the offset
	full  float64    // share of beats that reach full scale
}

// interval is a beat and what follows, up to the next one.
type interval struct {
	at     float64 // of its mark, frames
	length float64 // frames
	side   beat.Side
	peak   float64 // of the beat, in y
	whole  float64 // likewise in x
	blocks []float64
}

// The band in which beats are heard, and the frequency below which hum lies, Hz.
const (
	bandLow, bandHigh = 1500, 16000
	lowest            = 400
)

// A beat's sounds lie from before its mark to after it, in parts of the interval
// and seconds.
const (
	aroundPart = 0.1
	beforeMark = 2e-3
	afterMark  = 20e-3
)

// blockSeconds is the width of the blocks in which the room is listened to
// between beats.
const blockSeconds = 4e-3

// newSound prepares half a minute of sound.
func newSound(x []float32, rate float64, h *heard, run *analysis.Result) *sound {
	s := &sound{x: x, y: bandPass(x, bandLow, bandHigh, rate), rate: rate, run: run, heard: h, all: newSpectra(x, rate)}
	s.low = math.Sqrt(meanSquare(bandPass(centred(decimated(x, rate)), 0, lowest, decimatedRate(rate))))
	s.cut(h.beats)
	s.measure()
	return s
}

// decimation brings a sound down to where hum can be filtered out with few taps.
const slowRate = 4000

func decimatedRate(rate float64) float64 { return rate / math.Max(1, math.Floor(rate/slowRate)) }

// decimated returns every so many samples' mean.
func decimated(x []float32, rate float64) []float32 {
	n := int(math.Max(1, math.Floor(rate/slowRate)))
	out := make([]float32, len(x)/n)
	for i := range out {
		var sum float32
		for _, v := range x[i*n : (i+1)*n] {
			sum += v
		}
		out[i] = sum / float32(n)
	}
	return out
}

// centred takes the offset out of x, in place.
func centred(x []float32) []float32 {
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	offset := float32(sum / math.Max(1, float64(len(x))))
	for i := range x {
		x[i] -= offset
	}
	return x
}

func (s *sound) found() bool { return s.run.Status == analysis.OK }

// cut cuts the sound at the beats.
func (s *sound) cut(heard []analysis.Row) {
	usual := float64(s.run.Beat.Period) / 2 * s.rate
	for i, b := range heard {
		if !b.Heard || i+1 == len(heard) || !heard[i+1].Heard {
			continue
		}
		v := interval{at: b.Time * s.rate, side: b.Side}
		v.length = heard[i+1].Time*s.rate - v.at
		if v.length < 0.3*usual || v.length > 3*usual {
			continue
		}
		from, to := s.around(v)
		if from < 0 || int(v.at+v.length) > len(s.x) {
			continue
		}
		v.peak, v.whole = peakOf(s.y[from:to]), peakOf(s.x[from:to])
		v.blocks = s.energies(to, int(v.at+v.length-aroundPart*v.length-beforeMark*s.rate))
		s.gaps = append(s.gaps, v)
	}
}

// around returns where the sounds of a beat begin and end, in frames.
func (s *sound) around(v interval) (from, to int) {
	return int(v.at - aroundPart*v.length - beforeMark*s.rate), int(v.at + math.Min(aroundPart*v.length+afterMark*s.rate, 0.4*v.length))
}

func peakOf(x []float32) float64 {
	most := 0.0
	for _, v := range x {
		most = math.Max(most, math.Abs(float64(v)))
	}
	return most
}

// energies returns the mean squares of y in whole blocks.
func (s *sound) energies(from, to int) []float64 {
	n := int(blockSeconds * s.rate)
	var out []float64
	for ; from+n <= to; from += n {
		out = append(out, meanSquare(s.y[from:from+n]))
	}
	return out
}

// quiet are the blocks of an interval in the half of it before the next beat,
// where what rang has died away.
func (v *interval) quiet() []float64 { return v.blocks[len(v.blocks)/2:] }

// measure takes the loudness of beats and room.
func (s *sound) measure() {
	var peaks [2][]float64
	var room []float64
	for i := range s.gaps {
		v := &s.gaps[i]
		peaks[v.side] = append(peaks[v.side], v.peak)
		room = append(room, v.quiet()...)
		if v.whole >= acquisition.FullScale {
			s.full++
		}
	}
	for side, p := range peaks {
		s.peaks[side] = math.NaN()
		if len(p) > 0 {
			s.peaks[side] = stats.Median(p)
		}
	}
	s.full /= math.Max(1, float64(len(s.gaps)))
	if len(room) == 0 {
		room = s.energies(0, len(s.y))
	}
	if len(room) > 0 {
		s.noise = math.Sqrt(stats.Median(room))
	}
}

// peak is that of the louder side's beats, or of the sound where there are none.
func (s *sound) peak() float64 {
	most := math.NaN()
	for _, p := range s.peaks {
		if !(p <= most) && !math.IsNaN(p) {
			most = p
		}
	}
	if math.IsNaN(most) {
		return peakOf(s.x)
	}
	return most
}

// hums reports that what lies below the beats' band is louder than they are: where
// there are none, that it is nearly all that is heard.
func (s *sound) hums() bool {
	const nearly = 0.95 // of the power
	if s.found() {
		return s.low > s.peak()
	}
	return s.low*s.low > nearly*meanSquare(s.x) && decibels(s.low) > QuietestPeak
}

// humSpoils reports that hum takes something from the beats: it hides them, or a beat
// that falls on its crest goes too near to full scale. Its frequency lies far from
// theirs, so that else it does nothing to their times.
func (s *sound) humSpoils(r *Report) bool {
	return !s.found() || r.Heard < enoughHeard || s.clipped() || decibels(math.Sqrt2*s.low+s.peak()) > LoudestPeak
}

// clipped reports that beats reach full scale, or the sound as a whole, or that it
// is cut off flat below that.
func (s *sound) clipped() bool {
	const (
		ofBeats, ofSamples = 0.02, 1e-4
		flat, audible      = 4, 0.05 // samples in turn at the peak, and that
	)
	peak := peakOf(s.x)
	var full, turn, runs float64
	for i, v := range s.x {
		a := math.Abs(float64(v))
		if a >= acquisition.FullScale {
			full++
		}
		if a < 0.9995*peak || i > 0 && v != s.x[i-1] {
			turn = 0
		}
		if turn++; a >= 0.9995*peak && turn == flat {
			runs++
		}
	}
	return s.full > ofBeats || full > ofSamples*float64(len(s.x)) || peak > audible && runs >= 3
}

// part returns the value that a part of x stays below; it sorts x.
func part(x []float64, p float64) float64 {
	slices.Sort(x)
	return stat.Quantile(p, stat.Empirical, x, nil)
}
