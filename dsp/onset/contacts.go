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

// Contacts finds the sounds that a beat is made of in its average x, in order
// of time. Each sets in within a fraction of a millisecond, rises to four times
// the energy of what rings on before it and well above its peak, and lies not
// more than 26 dB below the strongest. Sounds further than apart frames from the strongest are not of the
// beat.
//
// The setting-in is where the magnitude first passes a fifth of the contact's
// own peak. It is late by the same few microseconds for all contacts of
// similar spectrum, so that differences are truer than instants.
func Contacts(x []float64, rate, apart float64) []Contact {
	// The difference over some 20 µs takes out hum and rumble, and causes no
	// sound before its time.
	lag := max(1, int(math.Round(rate/48000)))
	d := make([]float64, len(x))
	for i := lag; i < len(x); i++ {
		d[i] = x[i] - x[i-lag]
	}
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
	ms := rate / 1000
	after, before, guard := max(2, int(0.35*ms)), max(3, int(0.7*ms)), max(1, int(0.05*ms))
	quiet := quietest(sum, int(2*ms))
	rise := make([]float64, len(d))
	for i := range rise {
		if i >= before && i+after <= len(d) {
			rise[i] = mean(i, i+after) / (mean(i-before, i-guard) + 3*quiet + 1e-30)
		}
	}
	var out []Contact
	for i := range rise {
		if rise[i] < 4 || !isPeak(rise, i, max(2, int(0.5*ms))) {
			continue
		}
		// A low note that dies away swells with every half cycle, but never
		// above the one before.
		if peak(d, i, i+int(0.6*ms)) < 1.5*peak(d, i-int(1.2*ms), i-guard) {
			continue
		}
		out = append(out, Contact{At: float64(i), Energy: mean(i, i+int(1.5*ms)) * 1.5 * ms})
	}
	strongest := 0.0
	for _, c := range out {
		strongest = max(strongest, c.Energy)
	}
	out = slices.DeleteFunc(out, func(c Contact) bool { return c.Energy < strongest/400 })
	out = ofOneBeat(out, apart)
	for i := range out {
		out[i].At = leadingEdge(d, int(out[i].At), ms)
	}
	return out
}

// quietest returns the least mean of any n values, from running sums.
func quietest(sum []float64, n int) float64 {
	least := math.Inf(1)
	for i := 0; i+n < len(sum); i += n / 2 {
		least = min(least, (sum[i+n]-sum[i])/float64(n))
	}
	return least
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
	lo, hi := max(1, i-int(0.25*ms)), min(len(d), i+int(0.8*ms)+1)
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
