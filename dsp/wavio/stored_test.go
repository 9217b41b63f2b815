package wavio_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
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
				wav := wave(e.format(48000, channels), chunk("data", e.samples(want[2-channels:])))
				for _, b := range [][]byte{wav, rifx(wav, e.width()), sony(wav)} {
					var s wavio.Stored
					if n, err := wavio.Store(open(t, file(b)), &s, channels-1, frames); n != frames || err != nil {
						t.Fatal(n, err)
					}
					if got := s.Differences(nil, c.lag, c.step, c.per); !slices.Equal(got, direct) {
						t.Errorf("%s, %s, %d channels, %+v: differences %v, want %v", b[:4], e.name, channels, c, got, direct)
					}
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

// Store gives the same of a stream that comes in small pieces.
func TestStoreDribble(t *testing.T) {
	const frames = 30_000
	want := coarse(3, frames)
	for name, dribble := range dribbles {
		for _, e := range []stored{encodings[0], pcm16, encodings[4], encodings[8]} {
			b := wave(list, e.format(48000, 3), chunk("data", e.samples(want)))
			few := wave(list, e.format(48000, 3), chunk("data", e.samples(coarse(3, 1000))))
			wavtest.CheckSource(t, func() wavio.Source { return open(t, dribble(stream(few))) })
			rd := open(t, dribble(stream(b)))
			var s wavio.Stored
			if n, err := wavio.Store(rd, &s, 2, frames); n != frames || err != nil {
				t.Fatalf("%s, %s: %d frames, error %v", e.name, name, n, err)
			}
			x := make([]float32, frames)
			if s.Samples(x, 0); !slices.Equal(x, want[2]) {
				t.Errorf("%s, %s: other samples than were stored", e.name, name)
			}
			if n, err := wavio.Store(rd, &s, 2, frames); err != io.EOF || len(rd.Problems()) > 0 {
				t.Errorf("%s, %s: %d frames at the end, error %v, problems %q", e.name, name, n, err, rd.Problems())
			}
		}
	}
}

// What came before a fault, even within a frame, is stored, and the fault then
// told, as Read tells it.
func TestStoreFails(t *testing.T) {
	want := coarse(3, 40_000)
	for _, e := range encodings {
		b := wave(e.format(48000, 3), chunk("data", e.samples(want)))
		for name, after := range map[string]io.Reader{
			"unplugged":    iotest.ErrReader(errors.New("unplugged")),
			"cut archive":  iotest.ErrReader(io.ErrUnexpectedEOF),
			"no more came": &pieces{r: zeros{}, sizes: []int{0}},
		} {
			for _, cut := range []int{44, 46, 1001, 70_001, len(b) - 1} {
				if cut < 9999 {
					wavtest.CheckSource(t, func() wavio.Source {
						return open(t, io.MultiReader(stream(b[:cut]), after))
					})
				}
				var s wavio.Stored
				rd := open(t, io.MultiReader(stream(b[:cut]), after))
				n, err := wavio.Store(rd, &s, 0, len(want[0]))
				if whole := (cut - 44) / (3 * e.width()); n != whole || (n == 0) == (err == nil) {
					t.Fatalf("%s, %s after %d bytes: %d frames, error %v", e.name, name, cut, n, err)
				}
				if _, err = wavio.Store(rd, &s, 0, 9); err == nil || err == io.EOF {
					t.Errorf("%s, %s after %d bytes: error %v", e.name, name, cut, err)
				}
				checkMessage(t, err)
			}
		}
	}
}

// A block that spans parts of different encodings is heard like one of a single
// part.
func TestStoreAtJoints(t *testing.T) {
	const frames = 10_000
	want := coarse(2, frames)
	part := func(e stored, from, to int) []byte {
		return wave(e.format(48000, 2), chunk("data", e.samples([][]float32{want[0][from:to], want[1][from:to]})))
	}
	paths := []string{
		save(t, "a.wav", part(pcm16, 0, 3000)),
		save(t, "b.wav", rifx(part(pcm16, 3000, 3001), 2)),
		save(t, "c.wav", sony(part(encodings[4], 3001, 4096))),
		save(t, "d.wav", part(encodings[8], 4096, 4200)),
		save(t, "e.wav", part(encodings[0], 4200, frames)),
	}
	wavtest.CheckSource(t, func() wavio.Source { return openParts(t, nil, paths...) })
	for _, size := range []int{1, 48, 1000, 4096, frames} {
		parts, whole := openParts(t, nil, paths...), open(t, file(part(pcm16, 0, frames)))
		var a, b wavio.Stored
		for at := 0; at < frames; at += size {
			n, err := wavio.Store(parts, &a, 1, size)
			m, _ := wavio.Store(whole, &b, 1, size)
			if n != m || err != nil {
				t.Fatalf("blocks of %d, at %d: %d frames, not %d, error %v", size, at, n, m, err)
			}
			if got, want := a.Differences(nil, 5, 4, 48), b.Differences(nil, 5, 4, 48); !slices.Equal(got, want) {
				t.Errorf("blocks of %d, at %d: differences %v, want %v", size, at, got, want)
			}
		}
	}
}

// A header that gives very many channels doesn't make Store allocate for them.
func TestStoreAllocation(t *testing.T) {
	const channels = 32767
	want := coarse(channels, 5)
	rd := open(t, stream(wave(pcm16.format(192000, channels), chunk("data", pcm16.samples(want)))))
	var s wavio.Stored
	check := checkAllocation(t)
	n, err := wavio.Store(rd, &s, channels-1, 192000)
	check()
	if n != 5 || err != nil {
		t.Fatalf("%d frames, error %v", n, err)
	}
	x := make([]float32, 5)
	if s.Samples(x, 0); !slices.Equal(x, want[channels-1]) {
		t.Errorf("samples %v, want %v", x, want[channels-1])
	}
}

// Store leaves alone what was given to Floats.
func TestFloatsStayTheCallers(t *testing.T) {
	x := []float32{1, 2, 3}
	s := wavio.Floats(x)
	if n, err := wavio.Store(wavio.FromSamples(8000, []float32{7, 8, 9}), s, 0, 3); n != 3 || err != nil {
		t.Fatal(n, err)
	}
	if !slices.Equal(x, []float32{1, 2, 3}) {
		t.Errorf("the caller's samples are now %v", x)
	}
}

func TestStoredPanics(t *testing.T) {
	src := func() wavio.Source {
		return open(t, file(wave(pcm16.format(8000, 2), chunk("data", make([]byte, 64)))))
	}
	var whole, part wavio.Stored
	wavio.Store(src(), &whole, 0, 16)
	wavio.Store(src(), &part, 1, 10)
	floats := wavio.Floats(make([]float32, 16)[:10])
	for name, wrong := range map[string]func(){
		"channel 2 of 2":     func() { wavio.Store(src(), new(wavio.Stored), 2, 1) },
		"channel before 0":   func() { wavio.Store(src(), new(wavio.Stored), -1, 1) },
		"no frames":          func() { wavio.Store(src(), new(wavio.Stored), 0, 0) },
		"past the end":       func() { whole.Samples(make([]float32, 9), 8) },
		"past a part":        func() { part.Samples(make([]float32, 3), 8) },
		"past the floats":    func() { floats.Samples(make([]float32, 3), 8) },
		"before the start":   func() { whole.Samples(make([]float32, 1), -1) },
		"no block":           func() { whole.Differences(nil, 1, 1, 0) },
		"no step":            func() { whole.Differences(nil, 1, 0, 4) },
		"lag before 0":       func() { whole.Differences(nil, -1, 1, 4) },
		"step against block": func() { whole.Differences(nil, 1, 3, 4) },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if p := fmt.Sprint(recover()); !strings.HasPrefix(p, "wavio: ") {
					t.Errorf("panic %q", p)
				}
			}()
			wrong()
		})
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
