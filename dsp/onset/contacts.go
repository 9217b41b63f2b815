package onset

import (
	"math"
	"slices"
)

// Contact is one of the sounds of a beat: unlocking, impulse or drop.
type Contact struct {
	At     float64 // where it sets in, frames from the start of the average
	Energy float64 // of its first milliseconds, up to the next contact
}

// Contacts finds the sounds that a beat is made of, in order of time, in several
// averages xs of it, all of one length and with the mark in one place, as heard
// through a filter. Each sets
// in within a fraction of a millisecond, rises to four times the energy of what
// rings on before it and well above its peak, and lies not more than 23 dB below
// the strongest. Sounds further than apart frames from the strongest are not of
// the beat.
//
// Each stands out of the noise, too, by seven standard deviations.
//
// Several averages, each of a few beats, show sounds that move against the mark
// as the amplitude changes, and would smear in a single one.
func Contacts(xs [][]float64, through Filter, rate, apart float64) []Contact {
	ms := rate / 1000
	d := magnitude(xs, through)
	sum := make([]float64, len(d)+1)
	for i, v := range d {
		sum[i+1] = sum[i] + v*v
	}
	mean := func(a, b int) float64 {
		a, b = max(0, a), min(len(d), b)
		if b <= a {
			return 0
		}
		return (sum[b] - sum[a]) / float64(b-a)
	}
	after, before, guard := max(2, int(0.35*ms)), max(3, int(0.7*ms)), max(1, int(0.05*ms))
	quiet, clear := noise(mean, len(d), after)
	rise := make([]float64, len(d))
	for i := range rise {
		if i >= before && i+after <= len(d) {
			rise[i] = mean(i, i+after) / (mean(i-before, i-guard) + quiet + 1e-30)
		}
	}
	var out []Contact
	for i := range rise {
		// Half of the energy before is the quietest's, again: twice, not four times.
		if rise[i] < 2 || mean(i, i+after) < clear || !isPeak(rise, i, max(2, int(0.5*ms))) {
			continue
		}
		// A low note that dies away swells with every half cycle, but never
		// above the one before.
		if peak(d, i, i+int(0.6*ms)) < 1.5*peak(d, i-int(1.2*ms), i-guard) {
			continue
		}
		out = append(out, Contact{At: float64(i), Energy: (mean(i, i+int(1.5*ms)) - quiet) * 1.5 * ms})
	}
	strongest := 0.0
	for _, c := range out {
		strongest = max(strongest, c.Energy)
	}
	out = slices.DeleteFunc(out, func(c Contact) bool { return c.Energy < strongest/200 })
	out = ofOneBeat(out, apart)
	for i := range out {
		out[i].At = leadingEdge(d, int(out[i].At), ms)
	}
	return out
}

// Filter takes a sound to what is listened to of it; it causes no sound before
// its time.
type Filter func([]float64) []float64

// Difference returns the filter that takes the difference over some 20 µs: it
// takes out hum and rumble, and keeps edges sharp.
func Difference(rate float64) Filter {
	lag := max(1, int(math.Round(rate/48000)))
	return func(x []float64) []float64 {
		d := make([]float64, len(x))
		for i := lag; i < len(x); i++ {
			d[i] = x[i] - x[i-lag]
		}
		return d
	}
}

// magnitude returns the root mean square over xs of what passes a filter.
func magnitude(xs [][]float64, through Filter) []float64 {
	d := make([]float64, len(xs[0]))
	for _, x := range xs {
		for i, v := range through(x) {
			d[i] += v * v
		}
	}
	for i, v := range d {
		d[i] = math.Sqrt(v / float64(len(xs)))
	}
	return d
}

// noise returns the median of the means of n values each, of size values, and
// what chance alone hardly reaches: seven standard deviations more. The sounds
// of a beat fill so little of an average that they count in neither.
func noise(mean func(a, b int) float64, size, n int) (median, most float64) {
	var ms []float64
	for i := 0; i+n <= size; i += n {
		ms = append(ms, mean(i, i+n))
	}
	slices.Sort(ms)
	median = ms[len(ms)/2]
	return median, median + 7*(ms[len(ms)*84/100]-median)
}

func isPeak(x []float64, i, reach int) bool {
	for j := max(0, i-reach); j < min(len(x), i+reach+1); j++ {
		if x[j] > x[i] || x[j] == x[i] && j < i {
			return false
		}
	}
	return true
}

// peak returns the greatest magnitude in x[a:b], as far as that lies in x.
func peak(x []float64, a, b int) float64 {
	most := 0.0
	for i := max(0, a); i < min(b, len(x)); i++ {
		most = max(most, math.Abs(x[i]))
	}
	return most
}

// ofOneBeat keeps the contacts that lie within most frames of the strongest one.
func ofOneBeat(cs []Contact, most float64) []Contact {
	s := 0
	for i, c := range cs {
		if c.Energy > cs[s].Energy {
			s = i
		}
	}
	return slices.DeleteFunc(slices.Clone(cs), func(c Contact) bool { return math.Abs(c.At-cs[s].At) > most })
}

// leadingEdge returns where |d| first passes a fifth of its peak about the
// contact that sets in near i, to a fraction of a frame.
func leadingEdge(d []float64, i int, ms float64) float64 {
	lo, hi := max(1, i-int(0.4*ms)), min(len(d), i+int(0.8*ms)+1)
	most, before := peak(d, lo, hi), peak(d, lo-int(0.5*ms), lo)
	level := max(0.2*most, min(1.2*before, 0.6*most))
	for j := lo; j < hi; j++ {
		if a := math.Abs(d[j]); a >= level {
			b := math.Abs(d[j-1])
			if a > b {
				return float64(j) - (a-level)/(a-b)
			}
			return float64(j)
		}
	}
	return float64(i)
}
