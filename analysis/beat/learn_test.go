package beat

import (
	"fmt"
	"testing"

	"rundown/dsp/synth"
)

// excerpt returns one channel of a recording, with the bands and cadence in it.
func excerpt(tb testing.TB, rec synth.Recording) (x []float32, rate float64, bands []Band, cad Cadence) {
	tb.Helper()
	src := rec.Render()
	rate = float64(src.Format().SampleRate)
	x = make([]float32, int(rec.Duration*rate))
	n, err := readFull(src, [][]float32{x}, len(x))
	if n == 0 {
		tb.Fatal(err)
	}
	x = x[:n]
	bands = hear(x, rate)
	cad, ok := FindCadence(bands, rate/float64(blockFrames(rate)), false)
	if !ok {
		tb.Fatal("no cadence")
	}
	return x, rate, bands, cad
}

func BenchmarkLearn(b *testing.B) {
	for _, seconds := range []float64{30, 120} {
		for _, snr := range []float64{12, 30} {
			b.Run(fmt.Sprintf("%.0fs/%.0fdB", seconds, snr), func(b *testing.B) {
				x, rate, bands, cad := excerpt(b, movement(18000, seconds, snr))
				b.ReportAllocs()
				for b.Loop() {
					learn(x, rate, blockFrames(rate), bands, cad, nil)
				}
			})
		}
	}
}
