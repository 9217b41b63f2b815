package fitness

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis"
	"rundown/analysis/rate"
	"rundown/dsp/stats"
)

// Forecast is what a night with the set-up would give. Standard errors are those
// of scatter, and of what is not known of how the lift changes, in a run that is long enough
// for its sounds to be told as sharply as they can be;
// without the recorder's clock, and as long as the movement goes on as it did.
type Forecast struct {
	Minute  analysis.Number // standard error of the rate of one minute, s/day
	Hours   analysis.Number // likewise of the mean over eight hours, s/day
	Least   analysis.Number // least hesitation that is seen nine times in ten and more, ms
	Degrees bool            // the amplitude will be in degrees
}

// eightHours is a night, s.
const eightHours = 8 * 3600

// leastStep is the least hesitation, in scatters of the beats, that stands alone
// in ten minutes and is found 95 times in 100: see TestLeastStep of
// analysis/sequence.
const leastStep = 1.5

// forecast carries what the analysis of a short stretch gives on to a night: the
// beats scatter as they did, and the movement hesitates as often: also where it did once,
// for where nothing is known of how often, not even by powers of ten, so many are to be
// expected as were heard in the time (H. Jeffreys' prior of a scale). The unevenness of the
// escape wheel counts as scatter only where half a minute has too few turns to tell it.
func forecast(r *analysis.Result, h *heard) Forecast {
	b := &r.Beat
	jitter, interval := math.Min(float64(b.Jitter), h.scatter()), float64(b.Period)/2
	f := Forecast{Least: analysis.Number(1e3 * leastStep * jitter), Degrees: r.AmplitudeKind == rate.Degrees}
	w := longest(r.Windows)
	s := stretch{jitter, interval, float64(b.Last - b.First), h.pieces()}
	minute := s.slopeError(60)
	if !math.IsNaN(w.LeastDrift) {
		minute = math.Hypot(minute, 86400*w.LeastDrift)
	}
	f.Minute, f.Hours = analysis.Number(minute), analysis.Number(s.meanError(w.Lift.SE, eightHours))
	return f
}

// A turn of the escape wheel is some number of beats, and three of them tell which: if what
// comes round is so improbable by chance, for all numbers that are tried together, that one
// in a thousand stretches has it (Fisher's F).
const (
	fewestBeats, mostBeats = 12, 128
	turns                  = 3
	chance                 = 1e-3 / ((mostBeats-fewestBeats)/2 + 1)
	fitted                 = 5 // figures of the line, but for its height
)

// scatter returns the standard deviation of the beats about their line, in s, without what
// comes round with the escape wheel; infinite where nothing plainly does.
func (h *heard) scatter() float64 {
	beats := slices.DeleteFunc(slices.Clone(h.beats), func(b analysis.Row) bool { return math.IsNaN(b.Residual) })
	if len(beats) < fewestBeats {
		return math.Inf(1)
	}
	usual := make([]float64, len(beats))
	for i, b := range beats {
		usual[i] = math.Abs(b.Residual)
	}
	const outlying = 6
	far := outlying * stats.PerMedian * stats.Median(usual)
	beats = slices.DeleteFunc(beats, func(b analysis.Row) bool { return math.Abs(b.Residual) > far })
	all, whole := about(beats, 1)
	scatter := math.Inf(1)
	for p := int64(fewestBeats); p <= mostBeats && p*turns <= int64(len(beats)); p += 2 {
		square, free := about(beats, p)
		f := distuv.F{D1: whole - free, D2: free}
		if f.Survival((all-square)/f.D1/(square/free)) < chance { // of several, 0 to rounding, the turn is the one that leaves least
			scatter = math.Min(scatter, math.Sqrt(square/free))
		}
	}
	return scatter
}

// about returns the sum of squares of beats about the means of their places in a turn of so
// many beats, s², and the degrees of freedom of that.
func about(beats []analysis.Row, turn int64) (square, free float64) {
	sum, count := make([]float64, turn), make([]float64, turn)
	free = float64(len(beats) - fitted)
	for _, b := range beats {
		sum[b.Index%turn] += b.Residual
		count[b.Index%turn]++
		square += b.Residual * b.Residual
	}
	for k, c := range count {
		if c > 0 {
			square -= sum[k] * sum[k] / c
			free--
		}
	}
	return square, free
}

// longest returns the window with the most beats.
func longest(ws []rate.Window) rate.Window {
	var best rate.Window
	for _, w := range ws {
		if w.Heard >= best.Heard {
			best = w
		}
	}
	return best
}

// stretch is what was heard of a movement.
type stretch struct {
	jitter   float64 // standard deviation of a beat's time, s
	interval float64 // from beat to beat, s
	seconds  float64
	pieces   []int // beats heard between one hesitation and the next
}

// slopeError is the standard error of a rate in s/day, fitted to so many seconds.
// Of a line through n beats that scatter by jitter, the Cramér-Rao bound is jitter
// times the root of 12 / (n (n² − 1)) a beat; pieces, each with an intercept of its
// own, add up.
func (s stretch) slopeError(seconds float64) float64 {
	return 86400 / s.interval * s.jitter / math.Sqrt(information(s.over(seconds)))
}

// information is that of pieces about their common slope, over that of one beat.
func information(pieces []int) float64 {
	sum := 0.0
	for _, n := range pieces {
		n := float64(n)
		sum += n * (n*n - 1) / 12
	}
	return sum
}

// over returns the pieces that follow each other in another length of time, if
// hesitations come as often.
func (s stretch) over(seconds float64) (pieces []int) {
	left := 0
	for _, n := range s.pieces {
		left += n
	}
	left = int(float64(left) * seconds / s.seconds)
	for i := 0; left > 0; i++ {
		n := s.pieces[i%len(s.pieces)]
		if k := len(pieces); i%len(s.pieces) == 0 && k > 0 {
			n = min(n, left)
			pieces[k-1] += n // there is no hesitation where the stretch is repeated
		} else {
			n = min(n, left)
			pieces = append(pieces, n)
		}
		left -= n
	}
	return pieces
}

// meanError is the standard error of a mean rate in s/day, over so many seconds.
// The mean is read from the ends of each piece, or of its first and last minute:
// the end of a line through n beats has a variance of four beats' over n. Both ends
// of the run are moved to mid-lift by half a lift time with standard error liftSE
// in s, NaN where none was told.
func (s stretch) meanError(liftSE, seconds float64) float64 {
	var variance float64
	for _, n := range s.over(seconds) {
		variance += 8 * s.jitter * s.jitter / math.Min(float64(n), 60/s.interval)
	}
	if !math.IsNaN(liftSE) {
		variance += liftSE * liftSE / 2
	}
	return 86400 / seconds * math.Sqrt(variance)
}
