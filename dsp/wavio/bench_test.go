package wavio_test

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"rundown/dsp/wavio"
)

// BenchmarkReader reads a minute of sound at 48 kHz, one channel of those that
// are there.
func BenchmarkReader(b *testing.B) {
	for _, e := range encodings {
		for _, channels := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/%d", e.name, channels), func(b *testing.B) {
				const frames = 60 * 48000
				one := e.samples(coarse(channels, 48000))
				whole := wave(e.format(48000, channels), chunk("data", bytes.Repeat(one, 60)))
				dst := make([][]float32, channels)
				dst[channels-1] = make([]float32, 8192)
				b.SetBytes(int64(len(whole)))
				b.ReportAllocs()
				for b.Loop() {
					rd := open(b, stream(whole))
					for {
						if _, err := rd.Read(dst); err == io.EOF {
							break
						}
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/frames, "ns/frame")
			})
		}
	}
}

// BenchmarkWriter writes ten seconds of sound at 48 kHz in stereo.
func BenchmarkWriter(b *testing.B) {
	for _, e := range []stored{pcm16, encodings[4], encodings[7]} {
		b.Run(e.name, func(b *testing.B) {
			const frames = 10 * 48000
			src := coarse(2, frames)
			f := wavio.Format{SampleRate: 48000, Channels: 2, BitsPerSample: e.bits, Float: e.tag == 3, Frames: frames}
			b.SetBytes(int64(frames * 2 * e.width()))
			b.ReportAllocs()
			for b.Loop() {
				w, err := wavio.NewWriter(io.Discard, f)
				if err != nil {
					b.Fatal(err)
				}
				if err := w.Write(src); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/frames, "ns/frame")
		})
	}
}
