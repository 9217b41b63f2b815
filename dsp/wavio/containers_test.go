package wavio_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

// others are containers apart from RIFF, RF64 and BW64, made from a WAV with
// samples of so many bytes.
var others = []struct {
	name string
	of   func(wav []byte, width int) []byte
}{
	{"big-endian", rifx},
	{"Wave64", func(wav []byte, _ int) []byte { return sony(wav) }},
}

func TestReaderContainers(t *testing.T) {
	plain := []string{"plain", "chunks before", "chunks after", "large chunk after", "long format", "odd chunk before", "format last"}
	for _, o := range others {
		for i, e := range encodings {
			channels := 1 + i%3
			want := coarse(channels, 301)
			for _, l := range layouts {
				if !slices.Contains(plain, l.name) {
					continue
				}
				for _, format := range [][]byte{e.format(48000, channels), e.extensible(48000, channels)} {
					b := o.of(l.build(format, e.samples(want)), e.width())
					t.Run(fmt.Sprintf("%s/%s/%s/%d", o.name, e.name, l.name, len(format)), func(t *testing.T) {
						checkSound(t, file(b), e, want)
						if !l.fileOnly {
							checkSound(t, stream(b), e, want)
						}
					})
				}
			}
			b := o.of(wave(e.format(48000, 2), chunk("data", e.samples(coarse(2, 1000))), list), e.width())
			wavtest.CheckSource(t, func() wavio.Source { return open(t, file(b)) })
			wavtest.CheckSource(t, func() wavio.Source { return open(t, stream(b[:len(b)-100])) })
		}
	}
}

// TestWave64Unfinished gives sizes that don't fit what follows.
func TestWave64Unfinished(t *testing.T) {
	want := coarse(2, 40_001) // more than is looked at past the samples
	whole := sony(wave(pcm16.format(8000, 2), chunk("data", pcm16.samples(want)), list))
	const at, start = 96, 104 // of the size, of the samples
	after := start + (4*40_001+7)/8*8
	sized := func(n uint64) []byte {
		b := bytes.Clone(whole[:after])
		binary.LittleEndian.PutUint64(b[at:], n)
		return b
	}
	ending := func(b []byte, size int) []byte { // of the container
		b = bytes.Clone(b)
		binary.LittleEndian.PutUint64(b[16:], uint64(size))
		return b
	}
	tests := []struct {
		name    string
		b       []byte
		problem string // "": none
		frames  int
	}{
		{"sound", whole, "", 40_001},
		{"no pad, no chunk", whole[:start+4*40_001], "", 40_001},
		{"cut chunk after", whole[:after+30], "", 40_001},
		{"cut chunk after a whole container", ending(whole[:after+30], after), "belongs to no chunk and was left out (30 bytes)", 40_001},
		{"short pad after a whole container", ending(whole[:len(whole)-3], after), "", 40_001},
		{"size 0", sized(0)[:after-4], "gives no length", 40_001},
		{"size of the head", sized(24)[:after-4], "gives no length", 40_001},
		{"size 23", sized(23)[:after-4], "gives no length", 40_001},
		{"8 EiB", sized(math.MaxInt64)[:after-4], "gives no length", 40_001},
		{"16 EiB", sized(math.MaxUint64)[:after-4], "gives no length", 40_001},
		{"1 TiB", sized(24 + 1<<40)[:after-4], "declares 274877906944 frames", 40_001},
		{"too small", sized(24 + 400)[:after-4], "go on past the 100 frames", 40_001},
		{"cut in a frame", whole[:start+41], "the last frame is cut", 10},
		{"rubbish after", le(whole[:after], "\x01\x02\x03"), "belongs to no chunk and was left out (3 bytes)", 40_001},
		{"another recording after", le(whole[:after], whole), "another recording follows", 40_001},
	}
	for _, test := range tests {
		for kind, opened := range map[string]func([]byte) io.Reader{"file": file, "stream": stream} {
			t.Run(test.name+"/"+kind, func(t *testing.T) {
				rd := open(t, opened(test.b))
				expect(t, rd, [][]float32{want[0][:test.frames], want[1][:test.frames]})
				problems := strings.Join(rd.Problems(), " ")
				if !strings.Contains(problems, test.problem) || (test.problem == "") != (problems == "") {
					t.Errorf("problems %q, want %q", problems, test.problem)
				}
			})
		}
	}
	for cut := range start {
		for _, r := range []io.Reader{file(whole[:cut]), stream(whole[:cut])} {
			_, err := wavio.NewReader(r, "night.wav")
			checkMessage(t, err)
		}
	}
}

// loose returns a recording of 24-bit samples in words of 32 bits, of which
// place says where the sample of 24 bits goes.
func loose(want [][]float32, place func(v int32) uint32) []byte {
	channels := len(want)
	format := chunk("fmt ", le(uint16(1), uint16(channels), uint32(48000), uint32(48000*4*channels), uint16(4*channels), uint16(24)))
	var samples []byte
	for i := range want[0] {
		for _, c := range want {
			samples = append(samples, le(place(int32(c[i]*(1<<23))))...)
		}
	}
	return wave(format, chunk("data", samples), bext)
}

func TestReader24In32(t *testing.T) {
	want := coarse(2, 1000)
	lower := func(v int32) uint32 { return uint32(v) }
	tests := []struct {
		name string
		b    []byte
		want [][]float32
	}{
		{"sign on top", loose(want, lower), want},
		{"0 on top", loose(want, func(v int32) uint32 { return uint32(v) & 0xFFFFFF }), want},
		{"silence, then a chunk", loose([][]float32{{0, 0}}, lower), [][]float32{{0, 0}}},
	}
	for _, test := range tests {
		for kind, b := range map[string][]byte{"RIFF": test.b, "RIFX": rifx(test.b, 4), "Wave64": sony(test.b)} {
			t.Run(test.name+"/"+kind, func(t *testing.T) {
				wavtest.CheckSource(t, func() wavio.Source { return open(t, stream(b)) })
				rd := open(t, file(b))
				if f := rd.Format(); f.BitsPerSample != 24 || f.Frames != int64(len(test.want[0])) {
					t.Errorf("format %+v", f)
				}
				expect(t, rd, test.want)
				if p := rd.Problems(); !strings.HasPrefix(p[0], "In night.wav, the header gives 4 bytes to a sample of 24 bits; the lower three were used.") {
					t.Errorf("problems %q", p)
				}
			})
		}
	}
	for _, other := range []func(v int32) uint32{
		func(v int32) uint32 { return uint32(v) << 8 },
		func(v int32) uint32 { return math.Float32bits(float32(v)) },
	} {
		_, err := wavio.NewReader(file(loose(want, other)), "night.wav")
		checkMessage(t, err)
	}
}
