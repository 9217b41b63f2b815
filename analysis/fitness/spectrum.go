package fitness

import "math"

// narrowest is the least bandwidth that tells the lift, Hz: that of a telephone is
// 4 kHz.
const narrowest = 5500

// How a cut in the spectrum of the room is known: so many dB down within so many
// bands, and nothing above it as loud again.
const (
	cutDepth = 10.0
	cutBands = 3
)

// bandwidth is the frequency up to which there is sound: where the room's spectrum
// falls off a cliff, or half the sample rate.
func (s *sound) bandwidth() float64 {
	room := s.all.quantile(0.5)
	for b := 4; b+cutBands < len(room); b++ {
		below := mean(room[max(0, b-cutBands):b])
		above := math.Inf(-1)
		for _, v := range room[b+1:] {
			above = math.Max(above, v)
		}
		if below-above > cutDepth {
			return float64(b) * s.all.width
		}
	}
	return s.rate / 2
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// lossy reports that the sound went through a lossy compression: the high
// frequencies are cut off where no recorder cuts them, or come and go band by band,
// as where a coder leaves out what it takes not to be heard.
func (s *sound) lossy() bool {
	const (
		highestCut = 20500  // Hz; that of a coder
		recorders  = 0.43   // of the sample rate, where recorders cut
		holes      = 10.0   // dB below the usual level of a band
		hollow     = 2      // bands with holes
		from       = 4000.0 // Hz
	)
	cut := s.bandwidth()
	if cut > narrowest && cut < highestCut && cut < recorders*s.rate {
		return true
	}
	usual, low := s.all.quantile(0.5), s.all.quantile(0.1)
	n := 0
	for b := int(from / s.all.width); b < len(usual) && float64(b+1)*s.all.width < cut; b++ {
		if usual[b]-low[b] > holes {
			n++
		}
	}
	return n >= hollow
}
