package wavio_test

import (
	"testing"
)

// FuzzReader feeds the reader with bytes of any kind. It starts from all sound
// layouts, all unfinished headers, and what earlier runs found.
func FuzzReader(f *testing.F) {
	samples := coarse(2, 20)
	for _, e := range encodings {
		for _, l := range layouts {
			if b := l.build(e.format(48000, 2), e.samples(samples)); len(b) < 4000 {
				f.Add(b)
			}
		}
		f.Add(wave(e.extensible(48000, 2), chunk("data", e.samples(samples))))
		for _, o := range others {
			f.Add(o.of(wave(list, e.format(48000, 2), chunk("data", e.samples(samples)), list), e.width()))
		}
	}
	for _, l := range laws {
		f.Add(l.recording(1, allCodes()))
	}
	f.Add(loose(samples, func(v int32) uint32 { return uint32(v) }))
	for _, u := range unfinished {
		f.Add(u.build(pcm16.format(8000, 2), pcm16.samples(coarse(2, 2000))))
	}
	f.Fuzz(func(t *testing.T, b []byte) { checkHostile(t, b) })
}
