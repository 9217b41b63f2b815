package onset

import (
	"math"
	"slices"
)

// Strength appends to dst how suddenly the sound sets in at each block of the
// envelope e, and returns it. e holds mean squares of blocks, cadence to each
// other 1/perSecond s; the strength of block m is
//
//	max(0, ln((e[m] + e[m+1] + 2f) / (b + b + 2f)) )
//
// where b is the mean of the lookback blocks before m and f the loudness of the
// room about that time: natural units, 0 in steady sound whatever its loudness
// or its ringing on. Where the recording is digital silence, it is 0.
func Strength(dst, e []float32, perSecond float64) []float32 {
	return StrengthAbove(dst, e, Floor(nil, e, perSecond), perSecond)
}

// StrengthAbove is Strength where the room's loudness at each block is known: as
// many values as e has.
func StrengthAbove(dst, e, floor []float32, perSecond float64) []float32 {
	lookback := max(2, int(0.010*perSecond))
	at := len(dst)
	dst = slices.Grow(dst, len(e))[:at+len(e)]
	out := dst[at:]
	var sum float64
	for m := range e {
		out[m] = 0
		if m >= lookback {
			next := e[m]
			if m+1 < len(e) {
				next = e[m+1]
			}
			f := float64(floor[m])
			before := max(sum, 0)/float64(lookback) + f
			now := 0.5*float64(e[m]+next) + f
			if now > before && before > 0 {
				out[m] = float32(math.Log(now / before))
			}
			sum -= float64(e[m-lookback])
		}
		sum += float64(e[m])
	}
	return dst
}
