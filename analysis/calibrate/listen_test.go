package calibrate

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// quartz is a recording of a reference alone.
func quartz(seed uint64, seconds float64, rate int, ref synth.Reference, ppm, drift float64) synth.Recording {
	return synth.Recording{
		Seed: seed, Duration: seconds,
		Movement: synth.Movement{Absent: true},
		Room:     synth.Room{Level: -60},
		Recorder: synth.Recorder{SampleRate: rate, ClockPPM: ppm, ClockDrift: drift, Channels: 1, Channel: 1, Reference: ref},
	}
}

// heard listens to the last channel of a recording and measures its clock.
func heard(tb testing.TB, rec synth.Recording) (*Series, Error) {
	tb.Helper()
	src := rec.Render()
	s, ok, err := Listen(tb.Context(), src, Options{Hz: rec.Recorder.Reference.Hz, Channel: src.Format().Channels})
	if err != nil {
		tb.Fatal(err)
	}
	e, measured := Measure(s)
	if !ok || !measured {
		tb.Fatalf("no reference: %d heard of %d", s.Heard, s.Expected)
	}
	return s, e
}

func TestListen(t *testing.T) {
	with := func(r synth.Recording, change func(*synth.Recording)) synth.Recording {
		change(&r)
		return r
	}
	tick := synth.Reference{Hz: 1, Scatter: 20e-6}
	tests := []struct {
		name    string
		rec     synth.Recording
		most    float64 // error allowed, ppm, about five standard errors
		missing int64   // marks that may be missing
	}{
		{"one in five seconds", quartz(1, 300, 8000, synth.Reference{Hz: 0.2, Scatter: 20e-6}, -70, 0), 0.15, 1},
		{"one a second", quartz(1, 300, 16000, tick, -70, 0), 0.07, 1},
		{"eight a second", quartz(1, 120, 16000, synth.Reference{Hz: 8, Scatter: 20e-6}, 300, 0), 0.1, 10},
		{"sixteen a second", quartz(1, 120, 16000, synth.Reference{Hz: 16, Scatter: 20e-6}, 0, 0), 0.07, 16},
		{"pulse a second", quartz(1, 120, 48000, synth.Reference{Hz: 1, Kind: "pulse", Scatter: 1e-7}, 150, 0), 0.004, 1},
		{"tone of 50 Hz", quartz(1, 120, 8000, synth.Reference{Hz: 50, Kind: "tone"}, 150, 2), 0.005, 1},
		{"tone of 1 kHz", quartz(1, 120, 8000, synth.Reference{Hz: 1000, Kind: "tone"}, -250, 2), 0.001, 1},
		{"tone of 18 kHz", quartz(1, 30, 48000, synth.Reference{Hz: 18000, Kind: "tone"}, 900, 0), 0.001, 1},
		{"faint", quartz(1, 300, 16000, synth.Reference{Hz: 1, Scatter: 20e-6, Level: -40}, -70, 0), 0.07, 3},
		{"lost for a while", quartz(1, 400, 8000, synth.Reference{Hz: 1, Scatter: 20e-6, LostAt: 100, LostFor: 200}, -70, 0), 0.15, 201},
		{"late to come", quartz(1, 400, 8000, synth.Reference{Hz: 1, Scatter: 20e-6, LostAt: 0, LostFor: 100}, -70, 0), 0.06, 102},
		{"samples cut", with(quartz(1, 400, 8000, tick, -70, 0), func(r *synth.Recording) {
			r.Recorder.Faults = []synth.RecorderFault{{Kind: "cut", Occasion: synth.Occasion{At: 150}, For: 0.37}}
		}), 0.1, 35},
		{"beside a movement that leaks", synth.Recording{
			Duration: 200, Seed: 1, Movement: synth.Movement{Rate: 12},
			Recorder: synth.Recorder{SampleRate: 16000, ClockPPM: 20, Leak: -6, Reference: tick},
		}, 0.13, 1},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			s, e := heard(t, c.rec)
			r := c.rec.Recorder
			truth := r.ClockPPM + r.ClockDrift*c.rec.Duration/7200
			if d := math.Abs(e.PPM.X - truth); !(d <= c.most) || !(d <= 6*e.PPM.SE+1e-3) {
				t.Errorf("%v ppm, want %v ± %v", e.PPM, truth, c.most)
			}
			if s.Heard > s.Expected || s.Expected-s.Heard > c.missing {
				t.Errorf("%d heard of %d", s.Heard, s.Expected)
			}
		})
	}
}

// Nothing else is taken for a reference.
func TestNoReference(t *testing.T) {
	recordings := map[string]synth.Recording{
		"movement": {Seed: 1, Duration: 30, Recorder: synth.Recorder{SampleRate: 8000}},
	}
	for _, room := range synth.Rooms() {
		recordings[room] = synth.Quiet(room, 1, 30, 8000)
	}
	for name, rec := range recordings {
		sound := make([]float32, 30*8000)
		if _, err := rec.Render().Read([][]float32{sound}); err != nil {
			t.Fatal(err)
		}
		for _, hz := range []float64{1, 440} {
			s, ok, err := Listen(t.Context(), wavio.FromSamples(8000, sound), Options{Hz: hz})
			if err != nil || ok {
				t.Errorf("%s passes for a reference of %g Hz, %d of %d heard (error %v)", name, hz, s.Heard, s.Expected, err)
			}
		}
	}
	constant := make([]float32, 30*8000)
	for i := range constant {
		constant[i] = 0.5
	}
	if s, ok, _ := Listen(t.Context(), wavio.FromSamples(8000, constant), Options{Hz: 3599}); ok {
		t.Errorf("a constant voltage passes for a tone, %d of %d heard", s.Heard, s.Expected)
	}
	// The same ticks, said to come twice as often.
	rec := quartz(1, 60, 8000, synth.Reference{Hz: 1}, 0, 0)
	if s, ok, _ := Listen(t.Context(), rec.Render(), Options{Hz: 2}); ok {
		t.Errorf("1 Hz passes for 2 Hz, %d of %d heard", s.Heard, s.Expected)
	}
}

func TestLost(t *testing.T) {
	s, _ := heard(t, quartz(1, 300, 8000, synth.Reference{Hz: 1, LostAt: 100, LostFor: 120}, 0, 0))
	lost := s.Lost()
	if len(lost) != 1 || math.Abs(lost[0].Start-100) > 2 || math.Abs(lost[0].End-220) > 2 {
		t.Errorf("lost %v, want 100 to 220 s", lost)
	}
}

// cut delivers frames in blocks of its own size.
type cut struct {
	wavio.Source
	size int
}

func (c cut) Read(dst [][]float32) (int, error) {
	short := slices.Clone(dst)
	for i := range short {
		if short[i] != nil {
			short[i] = short[i][:min(c.size, len(short[i]))]
		}
	}
	return c.Source.Read(short)
}

func TestBlockSizeDoesNotMatter(t *testing.T) {
	for _, ref := range []synth.Reference{{Hz: 1, Scatter: 20e-6, LostAt: 30, LostFor: 60}, {Hz: 440, Kind: "tone"}} {
		rec := quartz(1, 150, 8000, ref, -70, 0)
		var want []mark
		for _, size := range []int{1 << 15, 1000, 77} {
			s, ok, err := Listen(t.Context(), cut{rec.Render(), size}, Options{Hz: ref.Hz})
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			if want == nil {
				want = s.marks
			}
			if !slices.Equal(s.marks, want) {
				t.Errorf("%g Hz: other marks in blocks of %d", ref.Hz, size)
			}
		}
	}
}

// broken is a source that fails.
type broken struct{ wavio.Source }

var errBroken = errors.New("broken")

func (broken) Read([][]float32) (int, error) { return 0, errBroken }

func TestListenErrors(t *testing.T) {
	silence := wavio.FromSamples(8000, make([]float32, 8000))
	if _, _, err := Listen(t.Context(), broken{silence}, Options{Hz: 1}); !errors.Is(err, errBroken) {
		t.Errorf("error %v, want that of the source", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := Listen(ctx, silence, Options{Hz: 1}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that of the context", err)
	}
	for _, o := range []Options{{Hz: 0}, {Hz: math.NaN()}, {Hz: 3700}, {Hz: 1, Channel: 2}} {
		if o.Check(silence.Format()) == nil {
			t.Errorf("%+v passes", o)
		}
	}
}

func BenchmarkListen(b *testing.B) {
	for name, ref := range map[string]synth.Reference{"tick": {Hz: 1}, "tone": {Hz: 1000, Kind: "tone"}} {
		src := quartz(1, 60, 48000, ref, 20, 0).Render()
		sound := make([]float32, src.Format().Frames)
		if _, err := src.Read([][]float32{sound}); err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(2 * len(sound)))
			for b.Loop() {
				if _, ok, err := Listen(b.Context(), wavio.FromSamples(48000, sound), Options{Hz: ref.Hz}); !ok || err != nil {
					b.Fatal(ok, err)
				}
			}
		})
	}
}
