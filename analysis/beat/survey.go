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

// centres are the middles of the bands in which a beat is first looked for, Hz.
var centres = []float64{700, 1500, 3000, 6000, 11000}

// blockFrames is how many frames make a block, about a millisecond.
func blockFrames(rate float64) int { return int(math.Round(rate / 1000)) }

// hear returns how a stretch of one channel sounds in each band.
func hear(x []float32, rate float64) []Band {
	block := blockFrames(rate)
	perSecond := rate / float64(block)
	var bands []Band
	for _, c := range centres {
		if c < 0.42*rate {
			e := energies(filter.NewBand(c, 1, rate), x, block)
			bands = append(bands, Band{e, onset.Floor(nil, e, perSecond), onset.Strength(nil, e, perSecond)})
		}
	}
	return bands
}

// survey looks for a beat in a stretch of one or more channels. Where there is
// one, of least beats or more, it returns the channel's index and the ear that
// knows its sound.
func survey(channels [][]float32, rate float64, least float64) (channel int, e *ear, s *shapes) {
	block := blockFrames(rate)
	var best Cadence
	var bands []Band
	channel = -1
	for c, x := range channels {
		b := hear(x, rate)
		if cad, ok := FindCadence(b, rate/float64(block)); ok && (channel < 0 || cad.LogP < best.LogP) {
			best, bands, channel = cad, b, c
		}
	}
	if channel < 0 || 2*float64(len(channels[channel])/block)/best.Period < least {
		return channel, nil, nil
	}
	e, s = learn(channels[channel], rate, block, bands, best)
	return channel, e, s
}
