package wavio_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/go-audio/wav"

	"rundown/dsp/wavio"
)

// written lists the encodings that can be written.
var written = []stored{pcm16, encodings[4], encodings[7]}

func (s stored) target(channels int, frames int64) wavio.Format {
	return wavio.Format{SampleRate: 48000, Channels: channels, BitsPerSample: s.bits, Float: s.tag == 3, Frames: frames}
}

func newWriter(t testing.TB, w io.Writer, f wavio.Format) *wavio.Writer {
	t.Helper()
	wr, err := wavio.NewWriter(w, f)
	if err != nil {
		t.Fatal(err)
	}
	return wr
}

// TestWriter writes and reads back, with the length declared and without, in
// blocks of several sizes.
func TestWriter(t *testing.T) {
	for _, e := range written {
		for _, channels := range []int{1, 2, 3} {
			for _, frames := range []int{0, 1, 2, 9999, 140_000} {
				want := coarse(channels, frames)
				declared := writeDeclared(t, e, want)
				seeking := writeSeeking(t, e, want)
				if !bytes.Equal(declared[:12], le("RIFF", uint32(len(declared)-8), "WAVE")) {
					t.Errorf("head % x of %d bytes", declared[:12], len(declared))
				}
				if plain := wave(e.format(48000, channels), chunk("data", e.samples(want))); !bytes.Equal(declared, plain) {
					t.Errorf("%s, %d channels, %d frames: not a plain WAV", e.name, channels, frames)
				}
				for _, b := range [][]byte{declared, seeking} {
					rd := open(t, stream(b))
					expect(t, rd, want)
					if f := e.target(channels, int64(frames)); frames > 0 && rd.Format() != f {
						t.Errorf("format %+v, want %+v", rd.Format(), f)
					}
					if p := rd.Problems(); frames > 0 && len(p) > 0 {
						t.Errorf("problems %q", p)
					}
				}
			}
		}
	}
}

func writeDeclared(t *testing.T, e stored, samples [][]float32) []byte {
	t.Helper()
	var b bytes.Buffer
	w := newWriter(t, &b, e.target(len(samples), int64(len(samples[0]))))
	for at, size := 0, 1; at < len(samples[0]); at, size = at+size, size*3 {
		size = min(size, len(samples[0])-at)
		part := make([][]float32, len(samples))
		for c := range part {
			part[c] = samples[c][at : at+size]
		}
		if err := w.Write(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func writeSeeking(t *testing.T, e stored, samples [][]float32) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	f.WriteString("before") // the recording may start anywhere
	w := newWriter(t, f, e.target(len(samples), -1))
	if err := wavio.Copy(w, wavio.FromSamples(48000, samples...)); err != nil {
		t.Fatal(err)
	}
	unfinished, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	expect(t, open(t, stream(unfinished[6:])), samples)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f.WriteString("after")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(b, []byte("before")) || !bytes.HasSuffix(b, []byte("after")) {
		t.Error("written outside the recording")
	}
	return b[6 : len(b)-5]
}

// TestWriterExact writes every 16-bit value, and 24-bit ones, and finds them
// again: what was read can be written without a loss. The decoder of go-audio
// is the judge.
func TestWriterExact(t *testing.T) {
	for _, e := range written[:2] {
		full := int(1) << (e.bits - 1)
		var values []int
		for v := -full; v < full; v += max(full/32768, 1) + full/131072 {
			values = append(values, v)
		}
		values = append(values, full-1)
		samples := make([]float32, len(values))
		for i, v := range values {
			samples[i] = float32(float64(v) / float64(full))
		}
		d := wav.NewDecoder(bytes.NewReader(writeDeclared(t, e, [][]float32{samples})))
		got, err := d.FullPCMBuffer()
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.Data, values) {
			t.Errorf("%s: other values than were written", e.name)
		}
	}
}

func TestWriterRounds(t *testing.T) {
	const step = 1.0 / 32768
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	samples := []float32{0.49 * step, 0.5 * step, 0.51 * step, 1.5 * step, -0.5 * step, -1.5 * step, 1, 1.5, inf, -1, -1.5, -inf, nan}
	want := []float32{0, 0, step, 2 * step, 0, -2 * step, 1 - step, 1 - step, 1 - step, -1, -1, -1, 0}
	expect(t, open(t, file(writeDeclared(t, pcm16, [][]float32{samples}))), [][]float32{want})

	samples = []float32{1.5, -3, inf, -inf, nan}
	expect(t, open(t, file(writeDeclared(t, encodings[7], [][]float32{samples}))), [][]float32{{1.5, -3, 0, 0, 0}})
}

func TestWriterWrongLength(t *testing.T) {
	w := newWriter(t, io.Discard, pcm16.target(1, 10))
	if err := w.Write(coarse(1, 9)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err == nil || !strings.Contains(err.Error(), "9 of the 10 frames") {
		t.Errorf("error %v for a frame too few", err)
	}
	w = newWriter(t, io.Discard, pcm16.target(1, 10))
	if err := w.Write(coarse(1, 11)); err == nil || w.Close() == nil {
		t.Error("no error for a frame too many")
	}
	for name, out := range map[string]io.Writer{"a writer": io.Discard, "a pipe": pipe(t)} {
		if _, err := wavio.NewWriter(out, pcm16.target(1, -1)); err == nil || !strings.Contains(err.Error(), "must be known") {
			t.Errorf("error %v for %s and no length", err, name)
		}
	}
}

// pipe returns the end of a pipe that is written to. Nobody reads it.
func pipe(t *testing.T) *os.File {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	return w
}

// full is a disk without room for more than so many bytes.
type full struct{ room int }

var errFull = errors.New("disk full")

func (f *full) Write(b []byte) (int, error) {
	if len(b) > f.room {
		return 0, errFull
	}
	f.room -= len(b)
	return len(b), nil
}

// TestWriterDiskFull checks that no failure passes for a success.
func TestWriterDiskFull(t *testing.T) {
	const size = 44 + 3*99 + 1
	for room := range size {
		w, err := wavio.NewWriter(&full{room}, encodings[4].target(1, 99))
		if err == nil {
			err = w.Write(coarse(1, 99))
			if closed := w.Close(); err == nil {
				err = closed
			} else if closed == nil {
				t.Errorf("room for %d bytes: Close has no error after Write had one", room)
			}
		}
		if !errors.Is(err, errFull) {
			t.Errorf("room for %d bytes: error %v", room, err)
		}
	}
}

func TestCopyFails(t *testing.T) {
	b := wave(pcm16.format(48000, 1), chunk("data", pcm16.samples(coarse(1, 100))))
	fault := errors.New("unplugged")
	src := open(t, io.MultiReader(stream(b[:200]), iotest.ErrReader(fault)))
	if err := wavio.Copy(newWriter(t, io.Discard, pcm16.target(1, 100)), src); !errors.Is(err, fault) {
		t.Errorf("error %v, want %v", err, fault)
	}
	w := newWriter(t, &full{44}, pcm16.target(1, 100))
	if err := wavio.Copy(w, wavio.FromSamples(48000, make([]float32, 100))); !errors.Is(err, errFull) {
		t.Errorf("error %v, want %v", err, errFull)
	}
}

func TestWriterPanics(t *testing.T) {
	sound := pcm16.target(2, 10)
	with := func(change func(*wavio.Format)) func() {
		f := sound
		change(&f)
		return func() { wavio.NewWriter(io.Discard, f) }
	}
	tests := map[string]func(){
		"8 bits":            with(func(f *wavio.Format) { f.BitsPerSample = 8 }),
		"16-bit float":      with(func(f *wavio.Format) { f.Float = true }),
		"no rate":           with(func(f *wavio.Format) { f.SampleRate = 0 }),
		"no channel":        with(func(f *wavio.Format) { f.Channels = 0 }),
		"too many channels": with(func(f *wavio.Format) { f.Channels = 40_000 }),
		"one channel":       func() { newWriter(t, io.Discard, sound).Write(coarse(1, 1)) },
		"different lengths": func() {
			newWriter(t, io.Discard, sound).Write([][]float32{make([]float32, 1), make([]float32, 2)})
		},
	}
	for name, run := range tests {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if p := fmt.Sprint(recover()); !strings.HasPrefix(p, "wavio: ") {
					t.Errorf("panic %q", p)
				}
			}()
			run()
		})
	}
}
