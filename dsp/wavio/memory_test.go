package wavio_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

func TestFromSamples(t *testing.T) {
	want := coarse(3, 2000)
	wavtest.CheckSource(t, func() wavio.Source { return wavio.FromSamples(48000, want...) })
	wavtest.CheckSource(t, func() wavio.Source { return wavio.FromSamples(8000, nil) })
	src := wavio.FromSamples(48000, want...)
	if f := (wavio.Format{SampleRate: 48000, Channels: 3, BitsPerSample: 32, Float: true, Frames: 2000}); src.Format() != f {
		t.Errorf("format %+v, want %+v", src.Format(), f)
	}
	expect(t, src, want)

	odd := []float32{1, float32(math.NaN()), float32(math.Inf(-1)), -2}
	src = wavio.FromSamples(48000, odd)
	expect(t, src, [][]float32{{1, 0, 0, -2}})
	if p := src.Problems(); len(p) != 1 || !strings.Contains(p[0], "(2 in all)") {
		t.Errorf("problems %q", p)
	}
	if odd[1] == odd[1] {
		t.Error("the caller's samples were changed")
	}
}

func TestFromSamplesPanics(t *testing.T) {
	for name, build := range map[string]func(){
		"no rate":           func() { wavio.FromSamples(0, nil) },
		"no channel":        func() { wavio.FromSamples(48000) },
		"different lengths": func() { wavio.FromSamples(48000, make([]float32, 1), make([]float32, 2)) },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if p := fmt.Sprint(recover()); !strings.HasPrefix(p, "wavio: ") {
					t.Errorf("panic %q", p)
				}
			}()
			build()
		})
	}
}
