package acquisition

import (
	"rundown/dsp/filter"
	"rundown/dsp/onset"
)

// searched are the bands in which a beat is first looked for: octaves, and most
// of what a beat can sound of at once.
var searched = []struct{ hz, q float64 }{{700, 1}, {1500, 1}, {3000, 1}, {6000, 1}, {11000, 1}, {4500, 0.35}}

// hearing is how a stretch of one channel sounds in each band, and goes on
// sounding. Each block is heard once, on its way in.
type hearing struct {
	rate    float64
	block   int // frames
	filters []*filter.Band
	bands   []Band // of the filters, and one of all of them together
}

// blockFrames is how many frames make a block, about a millisecond.
func blockFrames(rate float64) int { return max(1, int(rate/1000+0.5)) }

func newHearing(rate float64) *hearing {
	h := &hearing{rate: rate, block: blockFrames(rate)}
	for _, b := range searched {
		if b.hz < 0.42*rate {
			h.filters = append(h.filters, filter.NewBand(b.hz, b.q, rate))
		}
	}
	h.bands = make([]Band, len(h.filters)+1)
	return h
}

// perSecond is how many blocks there are in a second.
func (h *hearing) perSecond() float64 { return h.rate / float64(h.block) }

// blocks is how many of them have been heard.
func (h *hearing) blocks() int { return len(h.bands[0].Energy) }

// lead is how many seconds before a block its onset strength depends on.
const lead = 4

// listen hears the whole blocks that have been appended to x, the samples of the
// stretch, since the last time.
func (h *hearing) listen(x []float32) {
	from := h.blocks()
	before := max(0, from-int(lead*h.perSecond()))
	parallel(len(h.filters), func(i int) {
		b := &h.bands[i]
		b.Energy = appendEnergies(b.Energy, h.filters[i], x, from, h.block)
		e := b.Energy[before:]
		floor := onset.Floor(nil, e, h.perSecond())
		b.Floor = append(b.Floor, floor[from-before:]...)
		strength := onset.StrengthAbove(nil, e, floor, h.perSecond())
		b.Strength = append(b.Strength, strength[from-before:]...)
	})
	// What sets in in several bands at once stands out of noise that does not.
	last := len(h.filters)
	all := &h.bands[last]
	all.Energy, all.Floor = h.bands[last-1].Energy, h.bands[last-1].Floor
	all.Strength = append(all.Strength, make([]float32, h.blocks()-from)...)
	for _, b := range h.bands[:last] {
		for i, v := range b.Strength[from:] {
			all.Strength[from+i] += min(v, loudEnough) / float32(last)
		}
	}
}

// appendEnergies appends to dst the energies, in a band, of the whole blocks of
// x from block from on. Before x, there is silence.
func appendEnergies(dst []float32, band *filter.Band, x []float32, from, block int) []float32 {
	whole := len(x) / block
	warm := band.Warmup()
	// The first blocks have too little before them for the filter to warm up on.
	if short := min(whole, (warm+block-1)/block); from < short {
		padded := make([]float32, warm+short*block)
		copy(padded[warm:], x)
		dst = band.Energies(dst, padded[from*block:], block)
		from = short
	}
	if from < whole {
		dst = band.Energies(dst, x[from*block-warm:whole*block], block)
	}
	return dst
}
