package chart

import (
	"bytes"
	"io"
	"testing"
)

// benchmark measures making a chart and writing it as PNG.
func benchmark(b *testing.B, make func() *Figure) {
	var size bytes.Buffer
	if err := make().WritePNG(&size); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := make().WritePNG(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(size.Len()), "bytes")
}

func BenchmarkCharts(b *testing.B) {
	night, week := sampleRun(480, 60), sampleRun(11520, 60)
	for _, c := range []struct {
		name string
		make func() *Figure
	}{
		{"Rate", func() *Figure { return Rate(night) }},
		{"Period", func() *Figure { return Period(night) }},
		{"Amplitude", func() *Figure { return Amplitude(night) }},
		{"BeatError", func() *Figure { return BeatError(night) }},
		{"Isochronism", func() *Figure { return Isochronism(night) }},
		{"Fold", func() *Figure { return Fold(night.Heading, sampleTurn(30, 15), nil) }},
		{"Stability", func() *Figure { return Stability(night.Heading, sampleStabilities(), sampleFloors()...) }},
		{"Compare", func() *Figure { return Compare([]Run{night}, []Run{night}, sampleDifference(480)) }},
		{"EightDays/Rate", func() *Figure { return Rate(week) }},
		{"EightDays/Isochronism", func() *Figure { return Isochronism(week) }},
	} {
		b.Run(c.name, func(b *testing.B) { benchmark(b, c.make) })
	}
}

func BenchmarkMap(b *testing.B) {
	m, starts := sampleMap(30, 4800)
	benchmark(b, func() *Figure { return Map(Heading{}, m, starts, 15, nil) })
}
