package wavio_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// allocationLimit bounds what opening and reading any header may allocate, in
// bytes: the buffer, what is stored, blocks for 65535 channels, and small change.
const allocationLimit = 8 << 20

// field is a field of a header.
type field struct {
	name      string
	at, width int
}

// hostileHeaders are sound headers, with where their fields are.
func hostileHeaders() []struct {
	name   string
	b      []byte
	fields []field
} {
	samples := pcm16.samples(coarse(2, 250))
	format := func(at int) []field {
		return []field{
			{"format id", at, 4}, {"format size", at + 4, 4}, {"tag", at + 8, 2}, {"channels", at + 10, 2},
			{"rate", at + 12, 4}, {"bytes a second", at + 16, 4}, {"frame size", at + 20, 2}, {"bits", at + 22, 2},
		}
	}
	riff := []field{{"container id", 0, 4}, {"container size", 4, 4}, {"kind", 8, 4}}
	plain := wave(pcm16.format(48000, 2), chunk("data", samples), list)
	return []struct {
		name   string
		b      []byte
		fields []field
	}{
		{"plain", plain,
			concat(riff, format(12), []field{{"data id", 36, 4}, {"data size", 40, 4}, {"id after", 1044, 4}, {"size after", 1048, 4}})},
		{"big-endian", rifx(plain, 2), concat(riff, format(12), []field{{"data id", 36, 4}, {"data size", 40, 4}, {"id after", 1044, 4}, {"size after", 1048, 4}})},
		{"24 bits in 32", loose(coarse(2, 125), func(v int32) uint32 { return uint32(v) }), concat(riff, format(12), []field{{"data size", 40, 4}})},
		{"Wave64", sony(plain), []field{{"container id", 0, 4}, {"container size", 16, 8}, {"kind", 24, 4}, {"format id", 40, 4}, {"format size", 56, 8},
			{"tag", 64, 2}, {"channels", 66, 2}, {"frame size", 76, 2}, {"bits", 78, 2}, {"data id", 80, 4}, {"data size", 96, 8}, {"id after", 1104, 4}, {"size after", 1120, 8}}},
		{"extensible", wave(pcm16.extensible(48000, 2), chunk("data", samples)),
			concat(riff, format(12), []field{{"extra size", 36, 2}, {"valid bits", 38, 2}, {"mask", 40, 4}, {"sub-format", 44, 2}, {"data size", 64, 4}})},
		{"RF64", wave64("RF64", uint64(len(samples)), list, pcm16.format(48000, 2), sized(math.MaxUint32, samples)),
			concat(riff, []field{{"ds64 id", 12, 4}, {"ds64 size", 16, 4}, {"long container size", 20, 8}, {"long data size", 28, 8},
				{"frames", 36, 8}, {"table length", 44, 4}, {"list id", 48, 4}, {"list size", 52, 4}}, format(48+len(list)))},
	}
}

func concat(lists ...[]field) []field {
	var all []field
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

var extremes = []uint64{0, 1, 2, 3, 7, 0x7f, 0x80, 0xff, 0x7fff, 0x8000, 0xfffe, 0xffff, 0x7fffffff, 0x80000000,
	0xfffffffe, 0xffffffff, 1 << 50, 1<<63 - 1, 1 << 63, math.MaxUint64 - 1, math.MaxUint64}

// TestHeaderExtremes sets every field of every header, and every pair of fields
// of the same chunk, to extremes.
func TestHeaderExtremes(t *testing.T) {
	for _, h := range hostileHeaders() {
		for i, f := range h.fields {
			for _, v := range extremes {
				b := bytes.Clone(h.b)
				put(b, f, v)
				checkHostile(t, b)
				if i+1 < len(h.fields) {
					put(b, h.fields[i+1], math.MaxUint64)
					checkHostile(t, b)
				}
			}
		}
	}
}

func put(b []byte, f field, v uint64) {
	copy(b[f.at:f.at+f.width], binary.LittleEndian.AppendUint64(nil, v))
}

// checkHostile reads bytes of any kind, as a file and as a stream. It checks
// that nothing is invented, that all messages are fit to print, that little is
// allocated, that a file gives what a stream does, and Store what Read does.
func checkHostile(t testing.TB, b []byte) {
	t.Helper()
	fromFile := readHostile(t, file(b), len(b))
	fromStream := readHostile(t, stream(b), len(b))
	if fromFile != fromStream && !strings.Contains(fromStream, "which a stream can't give") {
		t.Errorf("from a file: %s\nfrom a stream: %s", fromFile, fromStream)
	}
	storeHostile(t, b, 1+len(b)%100)
}

// storeHostile compares the last channel as Store gives it, in blocks of so many
// frames, with what Read gives.
func storeHostile(t testing.TB, b []byte, size int) {
	t.Helper()
	defer checkAllocation(t)()
	rd, err := wavio.NewReader(stream(b), "night.wav")
	if err != nil {
		return
	}
	kept := open(t, stream(b))
	channel := rd.Format().Channels - 1
	dst := make([][]float32, channel+1)
	dst[channel] = make([]float32, size)
	x := make([]float32, size)
	var s wavio.Stored
	var rough, want []float32
	for {
		n, err := rd.Read(dst)
		m, errStored := wavio.Store(kept, &s, channel, size)
		if n != m || err != errStored {
			t.Fatalf("%d frames stored, not %d; errors %v, %v", m, n, errStored, err)
		}
		if err != nil {
			break
		}
		s.Samples(x[:n], 0)
		if !slices.Equal(x[:n], dst[channel][:n]) {
			t.Fatal("other samples stored than read")
		}
		lag, step := 1+size%7, 1+size%4
		rough = s.Differences(rough[:0], lag, step, 12*step)
		want = wavio.Floats(x[:n]).Differences(want[:0], lag, step, 12*step)
		if !slices.Equal(rough, want) {
			t.Fatalf("differences %v, want %v", rough, want)
		}
	}
	if !slices.Equal(kept.Problems(), rd.Problems()) {
		t.Errorf("problems %q, not %q", kept.Problems(), rd.Problems())
	}
}

// checkAllocation returns a function that checks how much was allocated since.
func checkAllocation(t testing.TB) func() {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	return func() {
		t.Helper()
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > allocationLimit {
			t.Errorf("%d bytes allocated", n)
		}
	}
}

// readHostile returns a digest of all that can be read.
func readHostile(t testing.TB, r io.Reader, size int) string {
	t.Helper()
	defer checkAllocation(t)()
	rd, err := wavio.NewReader(r, "night.wav")
	if err != nil {
		checkMessage(t, err)
		return err.Error()
	}
	f := rd.Format()
	if f.Channels < 1 || f.SampleRate < wavio.MinSampleRate || f.SampleRate > wavio.MaxSampleRate || f.Frames < -1 || f.Frames > 1<<50 {
		t.Errorf("format %+v", f)
	}
	frames, sum := int64(0), float64(0)
	dst := make([][]float32, f.Channels)
	for c := range min(f.Channels, 8) {
		dst[c] = make([]float32, 1000)
	}
	for {
		n, err := rd.Read(dst)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("error %v from sound bytes", err)
		}
		for c := range min(f.Channels, 8) {
			for i, v := range dst[c][:n] {
				sum += float64(v) * float64((frames+int64(i))%97+1)
			}
		}
		frames += int64(n)
	}
	if frames*int64(f.Channels*f.BitsPerSample/8) > int64(size) {
		t.Errorf("%d frames of %d channels from %d bytes", frames, f.Channels, size)
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		t.Error("samples that aren't finite")
	}
	problems := rd.Problems()
	for _, p := range problems {
		if !strings.HasPrefix(p, "In night.wav, ") || !strings.HasSuffix(p, ".") || strings.ContainsAny(p, "\r\n") {
			t.Errorf("problem %q", p)
		}
	}
	return string(le(frames, sum, int64(f.SampleRate), int64(f.Channels))) + strings.Join(problems, " ")
}

// TestAllocation checks, by checkHostile, that lengths in headers don't drive
// what is allocated.
func TestAllocation(t *testing.T) {
	f := pcm16.format(48000, 2)
	huge := map[string][]byte{
		"chunk of 4 GiB":        wave(le("LIST", uint32(math.MaxUint32)), make([]byte, 99)),
		"format of 4 GiB":       wave(le("fmt ", uint32(math.MaxUint32)), f[8:], chunk("data", make([]byte, 99))),
		"ds64 of 4 GiB":         wave(le("ds64", uint32(math.MaxUint32)), make([]byte, 99)),
		"samples of 2 GiB":      wave(f, sized(math.MaxInt32, make([]byte, 99))),
		"samples of 16 EiB":     wave64("RF64", math.MaxUint64, f, sized(math.MaxUint32, make([]byte, 99))),
		"65535 channels, 8 bit": wave(encodings[0].format(48000, 65535), sized(math.MaxInt32, make([]byte, 99))),
	}
	for name, b := range huge {
		t.Run(name, func(t *testing.T) {
			checkHostile(t, b)
		})
	}
}
