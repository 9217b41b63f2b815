package wavio_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"testing"

	"rundown/dsp/wavio"
)

// Differences are those of the samples, whatever holds them.
func TestDifferences(t *testing.T) {
	const frames = 1000
	want := coarse(2, frames)
	for _, c := range []struct{ lag, step, per int }{{1, 1, 1}, {5, 4, 48}, {7, 1, 11}, {3, 8, 96}, {2, 2, 1200}, {2000, 4, 48}} {
		x := want[1]
		var direct []float32
		for from := 0; from+c.per <= frames; from += c.per {
			sum, n := 0.0, 0
			for i := from; i < from+c.per && i+c.lag < frames; i += c.step {
				d := float64(x[i+c.lag]) - float64(x[i])
				sum += d * d
				n++
			}
			direct = append(direct, float32(sum/float64(max(1, n))))
		}
		for _, e := range encodings {
			for _, channels := range []int{1, 2} {
				src := open(t, bytes.NewReader(wave(e.format(48000, channels), chunk("data", e.samples(want[2-channels:])))))
				var s wavio.Stored
				if n, err := wavio.Store(src, &s, channels-1, frames); n != frames || err != nil {
					t.Fatal(n, err)
				}
				if got := s.Differences(nil, c.lag, c.step, c.per); !slices.Equal(got, direct) {
					t.Errorf("%s, %d channels, %+v: differences %v, want %v", e.name, channels, c, got, direct)
				}
			}
		}
	}
}

// A comb of lag 5 is loudest at a tenth of the sample rate, and deaf at a fifth.
func TestDifferencesAreAComb(t *testing.T) {
	for _, c := range []struct{ hz, want float64 }{{4800, 2}, {9600, 0}, {48, 4 * math.Pow(math.Sin(math.Pi*5*48/48000), 2) / 2}} {
		x := make([]float32, 48000)
		for i := range x {
			x[i] = float32(math.Sin(2 * math.Pi * c.hz / 48000 * float64(i)))
		}
		got := wavio.Floats(x).Differences(nil, 5, 3, 24000)[0]
		if math.Abs(float64(got)-c.want) > 1e-3 {
			t.Errorf("at %g Hz the mean square is %g, want %g", c.hz, got, c.want)
		}
	}
}

// BenchmarkStore is a minute of sound read as it is stored, and heard at a
// glance.
func BenchmarkStore(b *testing.B) {
	for _, e := range encodings {
		for _, channels := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/%d", e.name, channels), func(b *testing.B) {
				const frames = 60 * 48000
				one := e.samples(coarse(channels, 48000))
				whole := wave(e.format(48000, channels), chunk("data", bytes.Repeat(one, 60)))
				var s wavio.Stored
				var rough []float32
				b.SetBytes(int64(len(whole)))
				b.ReportAllocs()
				for b.Loop() {
					rd := open(b, stream(whole))
					for {
						if _, err := wavio.Store(rd, &s, channels-1, 48000); err == io.EOF {
							break
						}
						rough = s.Differences(rough[:0], 5, 4, 48)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/frames, "ns/frame")
			})
		}
	}
}
