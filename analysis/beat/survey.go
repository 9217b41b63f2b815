package beat

import (
	"math"

	"rundown/dsp/filter"
	"rundown/dsp/onset"
)

// How much of a recording, in seconds, is heard at once to find a beat in it: at
// first little, which serves if it holds many beats, then more.
const (
	glanceSeconds  = 30
	stretchSeconds = 120
	manyBeats      = 100
)

// searched are the bands in which a beat is first looked for: octaves, and most
// of what a beat can sound of at once.
var searched = []struct{ hz, q float64 }{{700, 1}, {1500, 1}, {3000, 1}, {6000, 1}, {11000, 1}, {4500, 0.35}}

// blockFrames is how many frames make a block, about a millisecond.
func blockFrames(rate float64) int { return int(math.Round(rate / 1000)) }

// hear returns how a stretch of one channel sounds in each band.
func hear(x []float32, rate float64) []Band {
	block := blockFrames(rate)
	perSecond := rate / float64(block)
	var bands []Band
	for _, b := range searched {
		if b.hz < 0.42*rate {
			e := energies(filter.NewBand(b.hz, b.q, rate), x, block)
			bands = append(bands, Band{e, onset.Floor(nil, e, perSecond), onset.Strength(nil, e, perSecond)})
		}
	}
	// What sets in in several bands at once stands out of noise that does not.
	all := bands[len(bands)-1]
	all.Strength = make([]float32, len(all.Energy))
	for _, b := range bands {
		for i, v := range b.Strength {
			all.Strength[i] += min(v, loudEnough) / float32(len(bands))
		}
	}
	bands = append(bands, all)
	return bands
}

// survey looks for a beat in a stretch of one or more channels. Where there is
// one, it returns the channel's index and the ear that knows its sound. Where
// least is not 0, one of fewer beats is left for a longer stretch, and so is one
// of which only one side may have been heard. With deep, it takes its time.
func survey(channels [][]float32, rate, least float64, deep bool) (channel int, e *ear, s *shapes) {
	block := blockFrames(rate)
	var best Cadence
	var bands []Band
	channel = -1
	for c, x := range channels {
		b := hear(x, rate)
		if cad, ok := FindCadence(b, rate/float64(block), deep); ok && (channel < 0 || cad.LogP < best.LogP) {
			best, bands, channel = cad, b, c
		}
	}
	if channel < 0 || 2*float64(len(channels[channel])/block)/best.Period < least {
		return channel, nil, nil
	}
	e, s = learn(channels[channel], rate, block, bands, best, nil)
	if !e.believable() || e.alone && least > 0 {
		return -1, nil, nil
	}
	return channel, e, s
}
