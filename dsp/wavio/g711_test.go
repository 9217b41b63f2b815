package wavio_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

// law is an encoding of ITU-T G.711.
type law struct {
	stored
	scale   float64 // of the standard's tables, to full scale ±1
	invert  byte    // the bits that are sent inverted
	outputs []float64
	// milliwatt is a sine of 1 kHz at 0 dBm0, at 8 kHz.
	milliwatt []byte
	overload  float64 // dBm0 of a sine whose peak is at the end of the scale
	end       float64 // of the scale, by the tables
}

// The values are those of ITU-T G.711 (1988), from memory: of tables 1a and 2a
// the decoder's output at the start of each segment, and at the top; of tables 5
// and 6 the milliwatt; of section 5 the overload.
var laws = []law{
	{stored{name: "A-law", tag: 6, bits: 8}, 4096, 0x55,
		[]float64{1, 33, 66, 132, 264, 528, 1056, 2112, 4032},
		[]byte{0x34, 0x21, 0x21, 0x34, 0xB4, 0xA1, 0xA1, 0xB4}, 3.14, 4096},
	{stored{name: "mu-law", tag: 7, bits: 8}, 8192, 0xFF,
		[]float64{0, 33, 99, 231, 495, 1023, 2079, 4191, 8031},
		[]byte{0x1E, 0x0B, 0x0B, 0x1E, 0x9E, 0x8B, 0x8B, 0x9E}, 3.17, 8159},
}

// recording is a channel of codes.
func (l law) recording(channels int, codes []byte) []byte {
	return wave(l.format(48000, channels), chunk("data", codes))
}

func allCodes() []byte {
	codes := make([]byte, 256)
	for i := range codes {
		codes[i] = byte(i)
	}
	return codes
}

func TestG711(t *testing.T) {
	for _, l := range laws {
		t.Run(l.name, func(t *testing.T) {
			got, err := readAll(open(t, file(l.recording(1, allCodes()))))
			if err != nil {
				t.Fatal(err)
			}
			value := func(code byte) float64 { return float64(got[0][code]) * l.scale }
			negative := byte(0) // the sign bit before inversion, where it means so
			if l.name == "mu-law" {
				negative = 0x80
			}
			for i, want := range l.outputs {
				code := byte(min(16*i, 127))
				plus, minus := value((code|0x80&^negative)^l.invert), value((code|negative)^l.invert)
				if plus != want || minus != -want {
					t.Errorf("code %#x stands for %g and %g, want ±%g", code, plus, minus, want)
				}
			}
			sum := 0.0
			for _, code := range l.milliwatt {
				sum += value(code) * value(code) / 8
			}
			peak := math.Sqrt(2 * sum)
			if level := 20*math.Log10(peak/l.end) + l.overload; math.Abs(level) > 0.01 {
				t.Errorf("the milliwatt is at %.3f dBm0", level)
			}
		})
	}
}

func TestG711Contract(t *testing.T) {
	for _, l := range laws {
		codes := slices.Repeat(allCodes(), 20)
		wavtest.CheckSource(t, func() wavio.Source { return open(t, stream(l.recording(2, codes))) })
		for _, b := range [][]byte{rifx(l.recording(2, codes), 1), sony(l.recording(2, codes)), wave(l.extensible(48000, 2), chunk("data", codes))} {
			want, err := readAll(open(t, file(l.recording(2, codes))))
			if err != nil {
				t.Fatal(err)
			}
			expect(t, open(t, file(b)), want)
		}
	}
}

// Differences of A-law and of the same samples at 16 bits are the same.
func TestG711Differences(t *testing.T) {
	for _, l := range laws {
		codes := slices.Repeat(allCodes(), 20)
		samples, err := readAll(open(t, file(l.recording(1, codes))))
		if err != nil {
			t.Fatal(err)
		}
		var rough [2][]float32
		for i, b := range [][]byte{l.recording(1, codes), wave(pcm16.format(48000, 1), chunk("data", pcm16.samples(samples)))} {
			var s wavio.Stored
			if n, err := wavio.Store(open(t, file(b)), &s, 0, len(codes)); n != len(codes) || err != nil {
				t.Fatal(n, err)
			}
			rough[i] = s.Differences(nil, 5, 4, 48)
		}
		if !slices.Equal(rough[0], rough[1]) || len(rough[0]) != len(codes)/48 {
			t.Errorf("%s: %s", l.name, fmt.Sprint(rough))
		}
	}
}
