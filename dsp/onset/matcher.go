package onset

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/blas/gonum"
	"gonum.org/v1/gonum/dsp/fourier"

	"rundown/dsp/stats"
)

// Matcher finds the instant at which a known sound comes, by correlation with a
// template of it, both whitened: the matched filter for noise of the room's
// spectrum. It keeps buffers, so each goroutine needs its own.
type Matcher struct {
	length  int     // frames of the template
	origin  float64 // frames from the template's start to the mark
	size    int     // frames of the transform
	rate    float64 // Hz
	reach   int     // frames either side of the expected place that fit into it
	fft     *fourier.FFT
	gain    []float64    // whitens a spectrum
	ref     []complex128 // conjugate whitened spectrum of the template
	norm    float64      // its whitened norm
	taps    []float32    // the template whitened twice: what correlates with the sound as it is; nil until Near is to be used
	ahead   int          // of the taps, how many lie before the template's start
	x       []float64
	c       []complex128
	scratch []float64
	found   []Match // scratch of FindSeveral
	alike   []int   // lags at which the template resembles itself, apart from 0, frames; nil until Likeliest is used
}

// Match is what a Matcher found.
type Match struct {
	Frame float64 // where the mark lies
	// Gain is the sound's size relative to the template, as least squares give
	// it; its standard deviation in the room's noise is Gain/SNR.
	Gain float64
	SNR  float64 // Gain over its standard deviation in the room as it was when the shaping was taken
	Rho  float64 // correlation of template and sound, 1 where they are alike
}

// NewMatcher returns a matcher for a template, the mean of so many beats (math.MaxInt for
// one without noise), whose mark lies origin frames after its start, that looks at least
// reach frames either side of where it is told to.
func NewMatcher(s *Shaping, template []float64, beats int, origin float64, reach int) *Matcher {
	size := 1 << bits.Len(uint(len(template)+2*reach+8))
	m := &Matcher{
		length: len(template), origin: origin, size: size, rate: s.Rate,
		reach: (size - len(template)) / 2,
		fft:   fourier.NewFFT(size), gain: s.gain(size),
		x: make([]float64, size), c: make([]complex128, size/2+1),
	}
	copy(m.x, template)
	taper(m.x[:len(template)])
	m.ref = m.fft.Coefficients(nil, m.x)
	for k := range m.ref {
		m.ref[k] *= complex(m.gain[k], 0)
	}
	m.clean(beats)
	for k, v := range m.ref {
		w := 2.0
		if k == 0 || k == size/2 {
			w = 1
		}
		m.norm += w * (real(v)*real(v) + imag(v)*imag(v))
		m.ref[k] = complex(real(v), -imag(v))
	}
	m.norm = math.Sqrt(m.norm)
	return m
}

// clean takes the room out of the whitened spectrum of a template as far as it is a mean of
// so many beats (N. Wiener, Extrapolation, Interpolation and Smoothing of Stationary Time
// Series, 1949): of a few faint ones, most of it is room, in which each of them would be
// found again better than any other beat.
func (m *Matcher) clean(beats int) {
	const smoothed = 4 // resolutions of the template's spectrum, on either side
	room := float64(m.length) / 2 / float64(max(1, beats))
	width := smoothed * m.size / max(1, m.length)
	sum := make([]float64, len(m.ref)+1)
	for k, v := range m.ref {
		sum[k+1] = sum[k] + real(v)*real(v) + imag(v)*imag(v)
	}
	for k := range m.ref {
		lo, hi := max(0, k-width), min(len(m.ref), k+width+1)
		if power := (sum[hi] - sum[lo]) / float64(hi-lo); power > room {
			m.ref[k] *= complex(1-room/power, 0)
		} else {
			m.ref[k] = 0
		}
	}
}

// makeTaps finds, once, the filter that does to a sound in one go what Find does with
// transforms, cut to where it holds all but a thousandth of its energy.
func (m *Matcher) makeTaps() {
	if m.taps != nil {
		return
	}
	for k, g := range m.gain {
		v := m.ref[k]
		m.c[k] = complex(real(v)*g, -imag(v)*g)
	}
	w := m.fft.Sequence(m.x, m.c)
	var all float64
	for _, v := range w {
		all += v * v
	}
	// The whitening rings before the template's start, too: at the end of w.
	n := m.size
	at := func(i int) float64 { return w[(i+n)%n] }
	lo, hi := 0, m.length
	inside := 0.0
	for i := lo; i < hi; i++ {
		inside += at(i) * at(i)
	}
	for inside < 0.999*all && hi-lo < n-2 {
		lo--
		hi++
		inside += at(lo)*at(lo) + at(hi-1)*at(hi-1)
	}
	m.taps, m.ahead = make([]float32, hi-lo), -lo
	for i := range m.taps {
		m.taps[i] = float32(at(lo + i))
	}
}

// around is how many lags on either side interpolation takes.
const around = 4

// Near is Find for when the place is known to within a few frames: it takes a
// small part of the time, and does not tell Rho. The second result is false,
// too, where the best match lies at the edge of the search.
func (m *Matcher) Near(x []float32, first int64, at float64, within int) (Match, bool) {
	return m.near(x, first, at, within, nil)
}

// Likeliest is Near for a sound that is due at a place with a standard deviation
// of sd frames: of the several places in which a sound that rings resembles
// itself, it takes the most probable one. noise is by what factor, in amplitude,
// the room is louder than when the shaping was taken. That the sound is out of
// its place altogether has the probability elsewhere.
func (m *Matcher) Likeliest(x []float32, first int64, at, sd float64, within int, noise float64) (Match, bool) {
	if m.norm == 0 {
		return Match{}, false
	}
	unit := m.norm * math.Sqrt(float64(m.size)/2) * noise
	most := -math.Log(elsewhere)
	cost := func(off float64) float64 { return 2 * unit * unit * min(off*off/(2*sd*sd), most) }
	if narrow := int(3*sd) + 3; narrow < within {
		m.resemble()
		if f, ok := m.near(x, first, at, narrow, cost); ok && m.alone(x, first, f) {
			return f, true
		}
	}
	return m.near(x, first, at, within, cost)
}

// alone reports whether the sound fits nowhere better than where it was found, in
// the places that might be taken for it.
func (m *Matcher) alone(x []float32, first int64, f Match) bool {
	from := int(math.Round(f.Frame-m.origin)) - int(first) - m.ahead
	found := float32(f.Gain * m.norm * m.norm)
	for _, lag := range m.alike {
		i := from + lag
		if i < 1 || i+1+len(m.taps) > len(x) {
			return false
		}
		if max(dot(m.taps, x[i-1:]), dot(m.taps, x[i:]), dot(m.taps, x[i+1:])) > found {
			return false
		}
	}
	return true
}

// resemblance is the autocorrelation of a template from which one of its places
// may be taken for another, and farthest how far, in seconds, that is looked for.
const (
	resemblance = 0.6
	farthest    = 1.2e-3
)

// resemble finds, once, the maxima of the template's autocorrelation.
func (m *Matcher) resemble() {
	if m.alike != nil {
		return
	}
	m.alike = []int{}
	c := make([]complex128, len(m.ref))
	for k, v := range m.ref {
		c[k] = complex(real(v)*real(v)+imag(v)*imag(v), 0)
	}
	r := m.fft.Sequence(nil, c)
	for lag := 2; lag < min(int(farthest*m.rate), m.size/2-1); lag++ {
		if r[lag] >= resemblance*r[0] && r[lag] >= r[lag-1] && r[lag] >= r[lag+1] {
			m.alike = append(m.alike, lag, -lag)
		}
	}
}

// elsewhere is the probability with which a beat is not where it is due: rarer
// than one in a turn of the escape wheel.
const elsewhere = 1e-3

// near returns the place of the greatest correlation, squared, less the cost of
// its distance from at.
func (m *Matcher) near(x []float32, first int64, at float64, within int, cost func(off float64) float64) (Match, bool) {
	if math.IsNaN(at) {
		return Match{}, false
	}
	m.makeTaps()
	start := int64(math.Round(at - m.origin))
	from := int(start-first) - m.ahead - within - around
	lags := 2*(within+around) + 1
	if from < 0 || from+lags+len(m.taps) > len(x) {
		return Match{}, false
	}
	if cap(m.scratch) < lags {
		m.scratch = make([]float64, lags)
	}
	r := m.scratch[:lags]
	for l := range r {
		r[l] = float64(dot(m.taps, x[from+l:]))
	}
	centre := at - m.origin - float64(start) + float64(within+around)
	byLag := cost
	if cost != nil {
		byLag = func(lag float64) float64 { return cost(lag - centre) }
	}
	where, best, p := highest(r, around, lags-around-1, byLag)
	if p == around || p == lags-around-1 {
		return Match{}, false
	}
	out := Match{Frame: float64(start) + where - float64(within+around) + m.origin}
	if m.norm > 0 {
		out.Gain = best / (m.norm * m.norm)
		out.SNR = best / m.norm / math.Sqrt(float64(m.size)/2)
	}
	return out, true
}

// highest returns where in r[lo:hi+1] the greatest maximum lies, how high it is,
// and the index of the sample next to it; cost is taken off the square of its
// height. Where there is a cost, the ends are no maxima. Where a sound rings, the maxima of its correlation are nearly alike,
// and between samples: the greatest sample may belong to the wrong one.
func highest(r []float64, lo, hi int, cost func(lag float64) float64) (where, height float64, p int) {
	worth := func(lag, top float64) float64 {
		if top <= 0 {
			return math.Inf(-1)
		}
		if cost == nil {
			return top * top
		}
		return top*top - cost(lag)
	}
	p = lo
	most := math.Inf(-1)
	for i := lo; i <= hi; i++ {
		if v := worth(float64(i), r[i]); v > most && (cost == nil || r[i] >= r[i-1] && r[i] >= r[i+1]) {
			p, most = i, v
		}
	}
	where, height, top := summit(r, p)
	best := worth(where, top)
	least := 0.8 * r[p]
	for i := lo; i <= hi; i++ {
		if r[i] < least || r[i] < r[i-1] || r[i] < r[i+1] {
			continue
		}
		w, h, t := summit(r, i)
		if v := worth(w, t); v > best {
			where, height, best, p = w, h, v, i
		}
	}
	return where, height, p
}

// summit returns where the maximum next to the sample r[p] lies, the greatest of
// the values half a frame apart, and what a parabola through these has for its
// top. It lies within half a frame.
func summit(r []float64, p int) (where, height, top float64) {
	a, b, c := half(r, p-1), r[p], half(r, p)
	where = float64(p)
	switch {
	case a > b:
		a, b, c = r[p-1], a, b
		where -= 0.5
	case c > b:
		a, b, c = b, c, r[p+1]
		where += 0.5
	}
	v := stats.Vertex(a, b, c)
	return where + v/2, b, b - (a-c)*v/4
}

// half interpolates halfway between r[i] and r[i+1], by the eight values about
// it and a sine over its argument under a Hann window.
func half(r []float64, i int) float64 {
	var sum float64
	for k, w := range halfWeights {
		sum += w * (r[i-k] + r[i+1+k])
	}
	return sum
}

var halfWeights = func() (w [around]float64) {
	var sum float64
	for k := range w {
		d := float64(k) + 0.5
		w[k] = math.Sin(math.Pi*d) / (math.Pi * d) * (0.5 + 0.5*math.Cos(math.Pi*d/(around+0.5)))
		sum += 2 * w[k]
	}
	for k := range w {
		w[k] /= sum
	}
	return w
}()

// dot returns the sum of products of a and the start of b, which is no shorter.
func dot(a, b []float32) float32 { return gonum.Implementation{}.Sdot(len(a), a, 1, b, 1) }

// Blur is the standard error of a match's frame times its SNR, frames: the
// Cramér-Rao bound, the inverse of the root mean square angular frequency of the
// whitened template.
func (m *Matcher) Blur() float64 {
	var power, slope float64
	for k, v := range m.ref {
		p := real(v)*real(v) + imag(v)*imag(v)
		w := 2 * math.Pi * float64(k) / float64(m.size)
		power += p
		slope += w * w * p
	}
	if slope == 0 {
		return 0
	}
	return math.Sqrt(power / slope)
}

// taper fades the last quarter of a template out, so that its cut end is no
// sound of its own.
func taper(x []float64) {
	n := len(x) / 4
	for i := range n {
		x[len(x)-1-i] *= 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
	}
}

// SNR is that of the template's own sound, once, in the room as it was when the
// shaping was taken.
func (m *Matcher) SNR() float64 { return m.norm / math.Sqrt(float64(m.size)/2) }

// Span is how many frames before and after an expected place Find takes in.
func (m *Matcher) Span() (before, after int) {
	before = int(math.Ceil(m.origin)) + (m.size-m.length)/2 + 1
	return before, m.size - before + 2
}

// SpanNear is Span for Near.
func (m *Matcher) SpanNear(within int) (before, after int) {
	m.makeTaps()
	before = int(math.Ceil(m.origin)) + m.ahead + within + around + 1
	return before, len(m.taps) - m.ahead - int(math.Floor(m.origin)) + within + around + 2
}

// Find returns the best match whose mark lies within within frames of at, where
// x[0] is frame first. The second result is false where x does not hold the
// frames it takes, or at is not a number.
func (m *Matcher) Find(x []float32, first int64, at, within float64) (Match, bool) {
	c, ok := m.correlate(x, first, at, within)
	if !ok {
		return Match{}, false
	}
	where, peak, _ := highest(c.r, c.lo, c.hi, nil)
	return m.match(&c, where, peak), true
}

// FindSeveral returns the n best matches, the best first, that are at least
// apart frames from each other, otherwise as Find; none where it has none.
func (m *Matcher) FindSeveral(x []float32, first int64, at, within, apart float64, n int) []Match {
	c, ok := m.correlate(x, first, at, within)
	if !ok {
		return nil
	}
	found := m.found[:0]
	for i := c.lo; i <= c.hi; i++ {
		if c.r[i] <= 0 || c.r[i] < c.r[i-1] || c.r[i] < c.r[i+1] {
			continue
		}
		where, peak, _ := summit(c.r, i)
		found = append(found, m.match(&c, where, peak))
	}
	m.found = found
	var best []Match
	for len(found) > 0 && len(best) < n {
		top := slices.MaxFunc(found, func(a, b Match) int { return cmp.Compare(a.Gain, b.Gain) })
		found = slices.DeleteFunc(found, func(f Match) bool { return math.Abs(f.Frame-top.Frame) < apart })
		best = append(best, top)
	}
	return best
}

// correlation is that of a template with sound, both whitened.
type correlation struct {
	r      []float64 // r[d]: the template laid d frames after start
	start  int64
	lo, hi int     // where it is valid
	energy float64 // of the sound
}

// correlate lays the template over x within within frames of at.
func (m *Matcher) correlate(x []float32, first int64, at, within float64) (correlation, bool) {
	if math.IsNaN(at) {
		return correlation{}, false
	}
	within = min(within, float64(m.reach))
	c := correlation{start: int64(math.Round(at-m.origin)) - int64(m.size-m.length)/2}
	from := c.start - first
	if from < 0 || from+int64(m.size) > int64(len(x)) {
		return correlation{}, false
	}
	for i, v := range x[from : from+int64(m.size)] {
		m.x[i] = float64(v)
	}
	m.c = m.fft.Coefficients(m.c, m.x)
	for k, v := range m.c {
		g := m.gain[k]
		a, b := real(v)*g, imag(v)*g
		c.energy += 2 * (a*a + b*b)
		re, im := real(m.ref[k]), imag(m.ref[k])
		m.c[k] = complex(a*re-b*im, a*im+b*re)
	}
	c.r = m.fft.Sequence(m.x, m.c)
	centre := at - m.origin - float64(c.start)
	c.lo = max(around, int(math.Ceil(centre-within)))
	c.hi = min(m.size-m.length-around, int(math.Floor(centre+within)))
	return c, c.lo <= c.hi
}

// match is what a maximum of a correlation says.
func (m *Matcher) match(c *correlation, where, peak float64) Match {
	out := Match{Frame: float64(c.start) + where + m.origin}
	if m.norm > 0 {
		out.Gain = peak / (m.norm * m.norm)
		// The room, whitened, has the power size/2 in each bin of the transform.
		out.SNR = peak / m.norm / math.Sqrt(float64(m.size)/2)
		if c.energy > 0 {
			out.Rho = peak / m.norm / math.Sqrt(c.energy)
		}
	}
	return out
}
