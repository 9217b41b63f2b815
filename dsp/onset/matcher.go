package onset

import (
	"cmp"
	"math"
	"math/bits"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/blas/gonum"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"

	"rundown/dsp/stats"
)

// Matcher finds the instant at which a known sound comes, by correlation with a
// template of it, both whitened: the matched filter for noise of the room's
// spectrum. It keeps buffers, so each goroutine needs its own.
type Matcher struct {
	length    int     // frames of the template
	origin    float64 // frames from the template's start to the mark
	size      int     // frames of the transform
	rate      float64 // Hz
	reach     int     // frames either side of the expected place that fit into it
	fft       *fourier.FFT
	parts     int          // of a frame, at which correlations are worked out
	fine      *fourier.FFT // of as many points as a transform has halves of frames, or of fft's for one part; nil until Find is used
	between   [][]float64  // what makes of halves of frames the parts after them; nil until Find is used
	gain      []float64    // whitens a spectrum
	ref       []complex128 // conjugate whitened spectrum of the template
	norm      float64      // its whitened norm
	room      float64      // energy that the room, whitened, has in a transform
	taps      [][]float32  // the template whitened twice, what correlates with the sound as it is, later by each part of a frame; nil until Near is to be used
	ahead     int          // of the taps, how many lie before the template's start
	x         []float64
	c         []complex128
	spectrum  []complex128 // c, and zeros beyond it, for fine; nil until Find is used
	halves    []float64    // what fine makes of it
	r         []float64    // correlations
	found     []Match      // scratch of FindSeveral
	alike     []int        // lags at which the template resembles itself, apart from 0, parts of a frame; nil until Likeliest is used
	resembles []float64    // the autocorrelation there, against that at 0, once for each two
}

// Match is what a Matcher found.
type Match struct {
	Frame float64 // where the mark lies
	// Gain is the sound's size relative to the template, as least squares give
	// it; its standard deviation in the room's noise is Gain/SNR.
	Gain float64
	SNR  float64 // Gain over its standard deviation in the room as it was when the shaping was taken
	Rho  float64 // correlation of template and sound, 1 where they are alike
	Rest float64 // power of the sound without the template, over the room's as it was when the shaping was taken
}

// NewMatcher returns a matcher for a template, the mean of so many beats (math.MaxInt for
// one without noise), whose mark lies origin frames after its start, that looks at least
// reach frames either side of where it is told to.
func NewMatcher(s *Shaping, template []float64, beats int, origin float64, reach int) *Matcher {
	size := 1 << bits.Len(uint(len(template)+2*reach+8))
	m := &Matcher{
		length: len(template), origin: origin, size: size, rate: s.Rate, parts: parts(s.Rate),
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
	for _, g := range m.gain {
		if g > 0 {
			m.room += float64(size)
		}
	}
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

// parts returns at how many places a frame a correlation is worked out: a recorder that
// keeps 7 kHz at 16 000 frames a second has hardly more than two of them a cycle, from
// which no eye and no parabola can tell one maximum from the next. At 60 000 a second, a
// cosine of the highest note that is heard has three points about its top.
func parts(rate float64) int {
	const enough = 60000
	return 1 << bits.Len(uint(math.Ceil(enough/rate))-1)
}

// makeTaps finds, once, the filters that do to a sound in one go what Find does with
// transforms, cut to where they hold all but a thousandth of their energy.
func (m *Matcher) makeTaps() {
	if m.taps != nil {
		return
	}
	// The whitening rings before the template's start, too: at the end of w.
	n := m.size
	var w []float64
	at := func(i int) float64 { return w[(i+n)%n] }
	var lo, hi int
	m.taps = make([][]float32, m.parts)
	for part := range m.taps {
		w = m.later(float64(part) / float64(m.parts))
		if part == 0 {
			lo, hi = holding(at, m.length, n, floats.Dot(w, w))
			m.ahead = -lo
		}
		m.taps[part] = make([]float32, hi-lo)
		for i := range m.taps[part] {
			m.taps[part][i] = float32(at(lo + i))
		}
	}
}

// later returns the template whitened twice and later by part of a frame, in a buffer that
// is used again.
func (m *Matcher) later(part float64) []float64 {
	for k, g := range m.gain {
		turn := cmplx.Rect(g, -2*math.Pi*float64(k)*part/float64(m.size))
		m.c[k] = cmplx.Conj(m.ref[k]) * turn
	}
	return m.fft.Sequence(m.x, m.c)
}

// holding returns from where to where, about its first frames of the given length, w holds
// all but a thousandth of its energy, and a frame more for parts of one.
func holding(w func(int) float64, length, size int, energy float64) (lo, hi int) {
	hi = length
	inside := 0.0
	for i := lo; i < hi; i++ {
		inside += w(i) * w(i)
	}
	for inside < 0.999*energy && hi-lo < size-3 {
		lo--
		hi++
		inside += w(lo)*w(lo) + w(hi-1)*w(hi-1)
	}
	return lo, hi + 1
}

// Near is Find for when the place is known to within a few frames: it takes a
// small part of the time, and tells neither Rho nor Rest. The second result is false,
// too, where the best match lies at the edge of the search.
func (m *Matcher) Near(x []float32, first int64, at float64, within int) (Match, bool) {
	return m.near(x, first, at, within, nil)
}

// Likeliest is Near for a sound that is due at a place with a standard deviation
// of sd frames: of the several places in which a sound that rings resembles
// itself, it takes the most probable one. noise is by what factor, in amplitude,
// the room is louder than when the shaping was taken. That the sound is out of
// its place altogether has the probability elsewhere, and it is then as likely in any place
// within reach; also is by how many frames later it is as likely to come, 0 where there is no
// such place.
func (m *Matcher) Likeliest(x []float32, first int64, at, sd, also float64, within int, noise float64) (Match, bool) {
	if m.norm == 0 {
		return Match{}, false
	}
	unit := m.norm * math.Sqrt(float64(m.size)/2) * noise
	most := math.Log(math.Max(1, 2*float64(within)/(math.Sqrt(2*math.Pi)*sd)) / elsewhere)
	cost := func(off float64) float64 {
		if also != 0 && math.Abs(off-also) < math.Abs(off) {
			off -= also
		}
		return 2 * unit * unit * min(off*off/(2*sd*sd), most)
	}
	if narrow := int(3*sd) + 3; narrow < within && also == 0 {
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
	from := int(math.Round((f.Frame-m.origin-float64(first))*float64(m.parts))) - m.ahead*m.parts
	found := f.Gain * m.norm * m.norm
	for _, lag := range m.alike {
		i := from + lag
		if i < m.parts || i/m.parts+2+len(m.taps[0]) > len(x) {
			return false
		}
		if max(m.lay(x, i-1), m.lay(x, i), m.lay(x, i+1)) > found {
			return false
		}
	}
	return true
}

// Unlike returns the mean square by which the correlation with a sound that was found in x,
// which begins at frame first, differs from what the template's own has it, in the places where
// that resembles itself, against its height: less what the room does. It is NaN where there are
// none.
func (m *Matcher) Unlike(x []float32, first int64, f Match) float64 {
	m.makeTaps()
	m.resemble()
	from := int(math.Round((f.Frame-m.origin-float64(first))*float64(m.parts))) - m.ahead*m.parts
	sum, n := 0.0, 0.0
	for i, lag := range m.alike {
		at := from + lag
		if at < 0 || at/m.parts+1+len(m.taps[0]) > len(x) {
			continue
		}
		own := m.resembles[i/2]
		d := m.lay(x, at)/(f.Gain*m.norm*m.norm) - own
		sum += d*d - (1-own*own)/(f.SNR*f.SNR)
		n++
	}
	return sum / n
}

// lay returns the correlation of the taps with x, laid so many parts of a frame after its
// start.
func (m *Matcher) lay(x []float32, at int) float64 {
	return float64(dot(m.taps[at%m.parts], x[at/m.parts:]))
}

// resemblance is the autocorrelation of a template from which one of its places
// may be taken for another: a beat half as loud again as usual, which is two standard
// deviations (common practice), seems half as loud there in noise. farthest is how far, in
// seconds, that is looked for.
const (
	resemblance = 0.3
	farthest    = 1.2e-3
)

// resemble finds, once, the maxima of the template's autocorrelation.
func (m *Matcher) resemble() {
	if m.alike != nil {
		return
	}
	m.alike = []int{}
	for k, v := range m.ref {
		m.c[k] = complex(real(v)*real(v)+imag(v)*imag(v), 0)
	}
	end := min(int(farthest*m.rate)*m.parts, m.size*m.parts/2-1)
	r := m.finely(0, end)
	for lag := 2 * m.parts; lag < end; lag++ {
		if r[lag] >= resemblance*r[0] && r[lag] >= r[lag-1] && r[lag] >= r[lag+1] {
			m.alike = append(m.alike, lag, -lag)
			m.resembles = append(m.resembles, r[lag]/r[0])
		}
	}
}

// finely returns the sequence whose spectrum is in m.c, at the parts of a frame from lo to hi: a
// transform gives halves of frames, in which it is sampled twice as often as its band asks for, so that
// a short filter (a sinc under Blackman's window) gives those between them.
func (m *Matcher) finely(lo, hi int) []float64 {
	m.makeFine()
	if len(m.r) < m.size*m.parts {
		m.r = make([]float64, m.size*m.parts)
	}
	copy(m.spectrum, m.c)
	if len(m.between) <= 1 {
		return m.fine.Sequence(m.r[:m.size*m.parts], m.spectrum)
	}
	all := 2 * m.size
	before := m.halves[fineTaps/2-1:]
	m.fine.Sequence(before[:all], m.spectrum)
	copy(m.halves, before[all-(fineTaps/2-1):all]) // it goes round
	copy(before[all:], before)
	for i := lo; i <= hi; i++ {
		at, part := i/len(m.between), i%len(m.between)
		if part == 0 {
			m.r[i] = before[at]
		} else {
			m.r[i] = floats.Dot(m.between[part], m.halves[at:][:fineTaps])
		}
	}
	return m.r
}

// fineTaps is how many halves of frames make a part of one: under Blackman's window, from a quarter
// of their sample rate to three quarters they fall by 74 dB.
const fineTaps = 16

// makeFine makes, once, what finely works with.
func (m *Matcher) makeFine() {
	if m.fine != nil {
		return
	}
	m.fine, m.spectrum = m.fft, m.c
	if m.parts == 1 {
		return
	}
	m.fine, m.spectrum = fourier.NewFFT(2*m.size), make([]complex128, m.size+1)
	m.halves = make([]float64, 2*m.size+fineTaps)
	m.between = make([][]float64, m.parts/2)
	for part := range m.between {
		m.between[part] = make([]float64, fineTaps)
		late := float64(part) / float64(len(m.between))
		for k := range m.between[part] {
			x := float64(k-fineTaps/2+1) - late
			sinc := 1.0
			if x != 0 {
				sinc = math.Sin(math.Pi*x) / (math.Pi * x)
			}
			turn := 2 * math.Pi * x / fineTaps
			m.between[part][k] = sinc * (0.42 + 0.5*math.Cos(turn) + 0.08*math.Cos(2*turn))
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
	from := int(start-first) - m.ahead - within - 1
	frames := 2*within + 3
	if from < 0 || from+frames+len(m.taps[0]) > len(x) {
		return Match{}, false
	}
	lags := (frames-1)*m.parts + 1
	if len(m.r) < lags {
		m.r = make([]float64, lags)
	}
	r := m.r[:lags]
	for l := range r {
		r[l] = m.lay(x, from*m.parts+l)
	}
	fine := float64(m.parts)
	centre := at - m.origin - float64(start) + float64(within+1)
	byLag := cost
	if cost != nil {
		byLag = func(lag float64) float64 { return cost(lag/fine - centre) }
	}
	where, best, p := highest(r, m.parts, lags-1-m.parts, byLag)
	if p == m.parts || p == lags-1-m.parts {
		return Match{}, false
	}
	out := Match{Frame: float64(start) + where/fine - float64(within+1) + m.origin}
	if m.norm > 0 {
		out.Gain = best / (m.norm * m.norm)
		out.SNR = best / m.norm / math.Sqrt(float64(m.size)/2)
	}
	return out, true
}

// highest returns where in r[lo:hi+1] the greatest maximum lies, how high it is,
// and the index of the value next to it; cost is taken off the square of its
// height. Where there is a cost, the ends are no maxima.
func highest(r []float64, lo, hi int, cost func(lag float64) float64) (where, height float64, p int) {
	p = lo
	most := math.Inf(-1)
	for i := lo; i <= hi; i++ {
		if inside := r[i] >= r[i-1] && r[i] >= r[i+1]; !inside && (cost != nil || i != lo && i != hi) {
			continue
		}
		w, h := summit(r, i)
		v := h * h
		if h <= 0 {
			v = math.Inf(-1)
		} else if cost != nil {
			v -= cost(w)
		}
		if i == lo || v > most {
			where, height, p, most = w, h, i, v
		}
	}
	return where, height, p
}

// summit returns where the maximum next to the value r[p] lies, no farther than half a
// place, and how high it is, by a parabola.
func summit(r []float64, p int) (where, height float64) {
	a, b, c := r[p-1], r[p], r[p+1]
	if b < a || b < c {
		return float64(p), b
	}
	v := stats.Vertex(a, b, c)
	return float64(p) + v, b - (a-c)*v/4
}

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
	before = int(math.Ceil(m.origin)) + m.ahead + within + 2
	return before, len(m.taps[0]) - m.ahead - int(math.Floor(m.origin)) + within + 3
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
		where, peak := summit(c.r, i)
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
	r      []float64 // r[d]: the template laid d parts of a frame after start
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
	centre, fine := at-m.origin-float64(c.start), float64(m.parts)
	c.lo = max(1, int(math.Ceil((centre-within)*fine)))
	c.hi = min((m.size-m.length)*m.parts-1, int(math.Floor((centre+within)*fine)))
	c.r = m.finely(c.lo-1, c.hi+1)
	return c, c.lo <= c.hi
}

// match is what a maximum of a correlation says.
func (m *Matcher) match(c *correlation, where, peak float64) Match {
	out := Match{Frame: float64(c.start) + where/float64(m.parts) + m.origin}
	if m.norm > 0 {
		out.Gain = peak / (m.norm * m.norm)
		// The room, whitened, has the power size/2 in each bin of the transform.
		out.SNR = peak / m.norm / math.Sqrt(float64(m.size)/2)
		if c.energy > 0 {
			out.Rho = peak / m.norm / math.Sqrt(c.energy)
			out.Rest = (c.energy - peak*peak/(m.norm*m.norm)) / m.room
		}
	}
	return out
}
