package wavio_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"iter"
	"math"
	"slices"
	"testing"

	"rundown/dsp/wavio"
)

// le appends integers and byte strings, little endian, as they stand in a file.
func le(fields ...any) []byte {
	var b []byte
	for _, f := range fields {
		switch f := f.(type) {
		case string:
			b = append(b, f...)
		case []byte:
			b = append(b, f...)
		default:
			var err error
			if b, err = binary.Append(b, binary.LittleEndian, f); err != nil {
				panic(err)
			}
		}
	}
	return b
}

// chunk returns a chunk with its pad byte.
func chunk(id string, body []byte) []byte {
	b := le(id, uint32(len(body)), body)
	if len(body)%2 != 0 {
		b = append(b, 0)
	}
	return b
}

// wave wraps chunks into a container.
func wave(chunks ...[]byte) []byte {
	body := slices.Concat(chunks...)
	return le("RIFF", uint32(4+len(body)), "WAVE", body)
}

// wave64 wraps chunks into an RF64 or BW64 container with a ds64 chunk.
func wave64(id string, samples uint64, chunks ...[]byte) []byte {
	body := slices.Concat(chunks...)
	long := chunk("ds64", le(uint64(4+36+len(body)), samples, uint64(0), uint32(0)))
	return le(id, uint32(math.MaxUint32), "WAVE", long, body)
}

// sized returns a data chunk whose header gives another size.
func sized(size uint32, samples []byte) []byte { return le("data", size, samples) }

// stored is a way to store samples.
type stored struct {
	name string
	tag  uint16
	bits int // as in the format chunk
	put  func(b []byte, v float64) []byte
}

func putInt(bits, width int) func(b []byte, v float64) []byte {
	return func(b []byte, v float64) []byte {
		n := int64(math.Ldexp(v, bits-1)) << (8*width - bits)
		return append(b, le(n)[:width]...)
	}
}

// encodings are all that can be read.
var encodings = []stored{
	{"unsigned 8", 1, 8, func(b []byte, v float64) []byte { return append(b, byte(int(v*128)+128)) }},
	{"integer 12", 1, 12, putInt(12, 2)},
	{"integer 16", 1, 16, putInt(16, 2)},
	{"integer 20", 1, 20, putInt(20, 3)},
	{"integer 24", 1, 24, putInt(24, 3)},
	{"integer 32", 1, 32, putInt(32, 4)},
	{"integer 64", 1, 64, putInt(64, 8)},
	{"float 32", 3, 32, func(b []byte, v float64) []byte { return append(b, le(float32(v))...) }},
	{"float 64", 3, 64, func(b []byte, v float64) []byte { return append(b, le(v)...) }},
}

var pcm16 = encodings[2]

func (s stored) width() int { return (s.bits + 7) / 8 }

// format returns a format chunk.
func (s stored) format(rate, channels int) []byte {
	return chunk("fmt ", s.fields(s.tag, rate, channels))
}

// extensible returns the format chunk of WAVE_FORMAT_EXTENSIBLE.
func (s stored) extensible(rate, channels int) []byte {
	guid := le(s.tag, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xAA\x00\x38\x9B\x71")
	return chunk("fmt ", le(s.fields(0xFFFE, rate, channels), uint16(22), uint16(s.bits), uint32(0), guid))
}

func (s stored) fields(tag uint16, rate, channels int) []byte {
	frame := channels * s.width()
	return le(tag, uint16(channels), uint32(rate), uint32(rate*frame), uint16(frame), uint16(s.bits))
}

// samples interleaves and stores channels.
func (s stored) samples(channels [][]float32) []byte {
	var b []byte
	for i := range channels[0] {
		for _, c := range channels {
			b = s.put(b, float64(c[i]))
		}
	}
	return b
}

// coarse returns samples that every encoding can hold: multiples of 1/128. No
// two channels are alike, and the period is no power of two.
func coarse(channels, frames int) [][]float32 {
	all := make([][]float32, channels)
	for c := range all {
		all[c] = make([]float32, frames)
		for i := range all[c] {
			all[c][i] = float32((i*37+c*11)%251-125) / 128
		}
	}
	return all
}

// chunks yields the chunks of a WAV, each of which has its pad byte.
func chunks(b []byte) iter.Seq2[string, []byte] {
	return func(yield func(string, []byte) bool) {
		for b = b[12:]; len(b) > 0; {
			n := int(binary.LittleEndian.Uint32(b[4:]))
			if !yield(string(b[:4]), b[8:8+n]) {
				return
			}
			b = b[8+n+n%2:]
		}
	}
}

// rifx makes a WAV big-endian, with samples of so many bytes.
func rifx(wav []byte, width int) []byte {
	var body []byte
	for id, b := range chunks(wav) {
		b = bytes.Clone(b)
		switch id {
		case "fmt ":
			turn(b, 2, 2, 4, 4, 2, 2, 2, 2, 4, 4)
		case "data":
			turn(b, slices.Repeat([]int{width}, len(b)/width)...)
		}
		head := le(id, uint32(len(b)))
		turn(head[4:], 4)
		body = append(append(body, head...), b...)
		body = append(body, make([]byte, len(b)%2)...)
	}
	head := le("RIFX", uint32(4+len(body)), "WAVE")
	turn(head[4:], 4)
	return append(head, body...)
}

// turn reverses fields of so many bytes that follow each other, as far as b goes.
func turn(b []byte, widths ...int) {
	for _, n := range widths {
		if n > len(b) {
			return
		}
		slices.Reverse(b[:n])
		b = b[n:]
	}
}

// sony turns a WAV into a Wave64.
func sony(wav []byte) []byte {
	const rest = "\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a"
	var body []byte
	for id, b := range chunks(wav) {
		body = append(body, le(id, rest, uint64(24+len(b)), b)...)
		body = append(body, make([]byte, -len(body)&7)...)
	}
	return le("riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00", uint64(40+len(body)), "wave", rest, body)
}

// forward hides all but Read, as a pipe does.
type forward struct{ io.Reader }

func stream(b []byte) io.Reader { return forward{bytes.NewReader(b)} }
func file(b []byte) io.Reader   { return bytes.NewReader(b) }

// open opens a recording that must be readable.
func open(t testing.TB, r io.Reader) *wavio.Reader {
	t.Helper()
	rd, err := wavio.NewReader(r, "night.wav")
	if err != nil {
		t.Fatal(err)
	}
	return rd
}

// readAll reads all channels to the end.
func readAll(src wavio.Source) ([][]float32, error) {
	all := make([][]float32, src.Format().Channels)
	block := make([][]float32, len(all))
	for c := range block {
		block[c] = make([]float32, 1<<14/len(all)+1)
	}
	for {
		n, err := src.Read(block)
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return all, err
		}
		for c := range all {
			all[c] = append(all[c], block[c][:n]...)
		}
	}
}

// expect reads a Source and compares it with the samples it should give.
func expect(t testing.TB, src wavio.Source, want [][]float32) {
	t.Helper()
	got, err := readAll(src)
	if err != nil {
		t.Fatal(err)
	}
	for c := range want {
		if !slices.Equal(got[c], want[c]) {
			t.Fatalf("channel %d: %d samples, not the %d that were stored, or others", c, len(got[c]), len(want[c]))
		}
	}
}
