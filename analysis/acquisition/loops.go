package acquisition

// Loop is one turn of sound that a player or an editor goes on repeating: it is
// the same again to the sample, up to rounding, the noise of the room with it.
// Nothing that a microphone hears is. All that is in it comes round evenly, so
// only what is heard within one turn tells of a beat.
type Loop struct {
	Frames   int     // of a turn; 0 where nothing is repeated
	sounding float64 // how many of them are more than faint
}

const (
	leastLoop = 0.5             // how many seconds must be repeated at least
	rounding  = 1.0 / (1 << 15) // a step of 16 bits
	faint     = 20 * rounding   // root mean square; below, a sound is too little more than its rounding
	inexact   = 0.01            // by how much a repeated sound may differ, of its size, beside its rounding
	astray    = 0.001           // which part of the blocks may differ by more
)

// FindLoop looks for a loop in a stretch x, by blocks of so many frames.
func FindLoop(x []float32, rate float64, block int) Loop {
	const tries = 2000 // of a tone, each cycle is like the last
	most := len(x) - int(leastLoop*rate)
	long := 20 * block // so much of a sound is hardly like another
	if most < long {
		return Loop{}
	}
	left := 100 * len(x) / block // blocks to be compared at most
	// A turn may be of most of the stretch, or may have begun late.
	for _, part := range []int{len(x) / 8, len(x) / 2} {
		at := loudestBlock(x[:part], block)
		if at < 0 || at+long > len(x) {
			continue
		}
		from := at
		for range tries {
			from = recurrence(x[:min(len(x), at+most+long)], at, long, from+block, &left)
			if from < 0 || left < 0 {
				break
			}
			if n := from - at; goesRound(x, n, block, &left) {
				return Loop{n, sounding(x[:n], block)}
			}
		}
	}
	return Loop{}
}

// Repeated tells whether there is a loop.
func (l Loop) Repeated() bool { return l.Frames > 0 }

// Sparse tells whether there is little between the sounds, so that they may be a
// row of clicks that was made, not recorded.
func (l Loop) Sparse() bool { return l.Repeated() && l.sounding < 0.4*float64(l.Frames) }

// Brief tells whether the sounds are as short as beats, two a period in frames.
func (l Loop) Brief(period, rate float64) bool {
	const longest = 0.06 // seconds
	beats := 2 * float64(l.Frames) / period
	return l.sounding < longest*rate*beats
}

// loudestBlock returns where the loudest block of x begins, -1 if all are faint.
func loudestBlock(x []float32, block int) int {
	at, most := -1, faint*faint
	for i := 0; i+block <= len(x); i += block {
		if p := power(x[i:][:block]); p > most {
			at, most = i, p
		}
	}
	return at
}

// power returns the mean square of x.
func power(x []float32) float64 {
	var sum float32
	for _, v := range x {
		sum += v * v
	}
	return float64(sum) / float64(len(x))
}

// recurrence returns where, from a frame on, the n samples of x that begin at at
// come again, -1 if they do not. Of neighbouring places, it is the likest. It
// takes the twentieths of n that it compares off left, and goes no further when
// there are none.
func recurrence(x []float32, at, n, from int, left *int) int {
	a := x[at:][:n]
	peak := 0
	for i, v := range a {
		if max(v, -v) > max(a[peak], -a[peak]) {
			peak = i
		}
	}
	bound := 3*rounding + inexact*max(a[peak], -a[peak])
	differ := func(u, v float32) bool { return u-v > bound || v-u > bound }
	alike := func(b []float32) bool {
		for i, v := range a {
			if differ(b[i], v) {
				return false
			}
		}
		return true
	}
	best, least := -1, 0.0
	// All places of a level sound are alike, and so as like as the first.
	for i := from; i+n <= len(x) && (best < 0 || i < best+n/20) && *left >= 0; i++ {
		if b := x[i:]; !differ(b[peak], a[peak]) && alike(b) {
			*left -= 40
			if d := difference(a, b); best < 0 || d < least {
				best, least = i, d
			}
		} else if best >= 0 {
			break
		}
		if best >= 0 && i-best > n {
			break // all is alike
		}
	}
	return best
}

// difference returns the mean square of what sets b, as far as a goes, off a.
func difference(a, b []float32) float64 {
	var sum float32
	for i, v := range a {
		d := b[i] - v
		sum += d * d
	}
	return float64(sum) / float64(len(a))
}

// goesRound tells whether x is the same again after a number of frames wherever it
// is more than faint. It looks here and there first, which mostly tells, and takes
// the blocks that it looks at off left.
func goesRound(x []float32, after, block int, left *int) bool {
	const leap = 100
	n := (len(x) - after) / block
	different := 0
	for first := range leap {
		for i := first; i < n; i += leap {
			*left--
			a, b := x[i*block:][:block], x[i*block+after:][:block]
			loud := max(power(a), power(b))
			if loud > faint*faint && difference(a, b) > inexact*inexact*loud+rounding*rounding {
				if different++; float64(different) > astray*float64(n) {
					return false
				}
			}
		}
	}
	return true
}

// sounding returns how many frames of x are in blocks that are more than faint.
func sounding(x []float32, block int) float64 {
	n := 0
	for i := 0; i+block <= len(x); i += block {
		if power(x[i:][:block]) > faint*faint {
			n += block
		}
	}
	return float64(n)
}
