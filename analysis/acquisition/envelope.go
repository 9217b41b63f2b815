package acquisition

import (
	"rundown/dsp/filter"
	"rundown/dsp/onset"
	"rundown/dsp/parallel"
)

// searched are the bands in which a beat is looked for among few: octaves, and
// most of what a beat can sound of at once.
var searched = []struct{ hz, q float64 }{{700, 1}, {1500, 1}, {3000, 1}, {6000, 1}, {11000, 1}, {4500, 0.35}}

// filterBank returns how a stretch sounds in each band, by blocks of so many frames,
// and last in all of them together.
func filterBank(x []float32, rate float64, block int) []Band {
	var filters []*filter.Band
	for _, b := range searched {
		if b.hz < 0.42*rate {
			filters = append(filters, filter.NewBand(b.hz, b.q, rate))
		}
	}
	perSecond := rate / float64(block)
	bands := make([]Band, len(filters)+1)
	parallel.Each(len(filters), func(i int) {
		b := &bands[i]
		b.Energy = filters[i].Blocks(x, block)
		b.Floor = onset.Floor(nil, b.Energy, perSecond)
		b.Strength = onset.StrengthAbove(nil, b.Energy, b.Floor, perSecond)
	})
	// What sets in in several bands at once stands out of noise that does not.
	last := len(filters)
	all := &bands[last]
	all.Energy, all.Floor = bands[last-1].Energy, bands[last-1].Floor
	all.Strength = make([]float32, len(all.Energy))
	for _, b := range bands[:last] {
		for i, v := range b.Strength {
			all.Strength[i] += min(v, loudEnough) / float32(last)
		}
	}
	return bands
}
