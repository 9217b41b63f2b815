package wavio

import (
	"fmt"
	"io"
)

// memory is a Source of samples that are held in memory.
type memory struct {
	format    Format
	channels  [][]float32
	at        int // frames delivered so far
	nonFinite int // samples replaced by 0 so far
}

// FromSamples returns a Source of samples in memory, one slice a channel, at a
// rate in hertz. The slices stay the caller's and aren't changed; they must not
// change while the Source is read.
//
// It panics if there is no channel, if their lengths differ, or if the rate
// isn't positive.
func FromSamples(rate int, channels ...[]float32) Source {
	if rate <= 0 || len(channels) == 0 {
		panic("wavio: FromSamples needs a rate and a channel")
	}
	for _, c := range channels {
		if len(c) != len(channels[0]) {
			panic("wavio: FromSamples with channels of different lengths")
		}
	}
	return &memory{
		format:   Format{SampleRate: rate, Channels: len(channels), BitsPerSample: 32, Float: true, Frames: int64(len(channels[0]))},
		channels: channels,
	}
}

// Format implements Source.
func (m *memory) Format() Format { return m.format }

// Read implements Source.
func (m *memory) Read(dst [][]float32) (frames int, err error) {
	n := checkBuffers(dst, m.format.Channels)
	for c, d := range dst {
		if d == nil {
			continue
		}
		copy(d, m.channels[c][m.at:])
		for i, v := range d[:min(n, len(m.channels[c])-m.at)] {
			if !finite(v) {
				d[i] = 0
				m.nonFinite++
			}
		}
	}
	frames = min(n, len(m.channels[0])-m.at)
	m.at += frames
	if frames == 0 {
		return 0, io.EOF
	}
	return frames, nil
}

// Problems implements Source.
func (m *memory) Problems() []string {
	if m.nonFinite == 0 {
		return nil
	}
	return []string{fmt.Sprintf("In memory, samples that were not finite numbers were taken as 0 (%d in all).", m.nonFinite)}
}
