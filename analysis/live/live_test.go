package live

import (
	"context"
	"math"
	"testing"
	"time"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/dsp/synth"
)

// nothing is a Sink that keeps nothing.
type nothing struct{}

func (nothing) Beats([]analysis.Row) error { return nil }
func (nothing) Events([]beat.Event) error  { return nil }

// What is shown at the end of a recording is what the analysis of it says: the
// same beats, and the same rate within the error that both leave to it.
func TestFiguresAreThoseOfTheAnalysis(t *testing.T) {
	for name, rec := range map[string]synth.Recording{
		"steady":     {Seed: 1, Duration: 130, Movement: synth.Movement{Rate: 4, BeatError: 1e-3}},
		"faint":      {Seed: 2, Duration: 130, Movement: synth.Movement{BeatsPerHour: 21600, Rate: -7}, Room: synth.Room{SNR: 22}},
		"hesitating": {Seed: 3, Duration: 130, Movement: synth.Movement{Recurrences: synth.BadTooth(15, 7, -1, 0.4, 4e-3)}},
		"stops":      {Seed: 4, Duration: 130, Movement: synth.Movement{Rate: 2, Stop: 80}},
	} {
		if testing.Short() && name != "steady" {
			continue
		}
		rec.Recorder.SampleRate = 8000
		r, err := analysis.Run(t.Context(), rec.Render(), analysis.Options{Window: 60, Tolerance: 10}, nothing{})
		if err != nil {
			t.Fatal(err)
		}
		l := NewListener(Options{})
		if err := l.Listen(t.Context(), rec.Render()); err != nil {
			t.Fatal(err)
		}
		f := l.Figures()
		if !f.Found || f.Counted != r.Beat.Counted || f.Heard != r.Beat.Heard {
			t.Errorf("%s: %d of %d beats heard, and by the analysis %d of %d", name, f.Heard, f.Counted, r.Beat.Heard, r.Beat.Counted)
		}
		if far := math.Abs(f.Rate.X - float64(r.Rate.Mean)); !(far < 2*math.Hypot(f.Rate.SE, float64(r.Rate.SE))) {
			t.Errorf("%s: rate %+.3f ± %.3f, and by the analysis %+.3f ± %.3f s/day", name, f.Rate.X, f.Rate.SE, r.Rate.Mean, r.Rate.SE)
		}
		if math.Abs(f.PerHour.X/float64(r.Beat.Measured)-1) > 1e-5 {
			t.Errorf("%s: %.3f beats an hour, and by the analysis %.3f", name, f.PerHour.X, r.Beat.Measured)
		}
		if f.Analysed != int64(float64(r.Recording.SampleRate)*rec.Duration) {
			t.Errorf("%s: %d frames", name, f.Analysed)
		}
		if math.Abs(f.Last-float64(r.Beat.Last)) > 0.3 {
			t.Errorf("%s: the last beat at %.2f s, not %.2f", name, f.Last, r.Beat.Last)
		}
	}
}

// A room without a movement has no rate.
func TestNoBeat(t *testing.T) {
	l := NewListener(Options{})
	if err := l.Listen(t.Context(), synth.Quiet("pink", 1, 60, 16000).Render()); err != nil {
		t.Fatal(err)
	}
	if f := l.Figures(); f.Found || !math.IsNaN(f.Rate.X) || !math.IsNaN(f.Last) {
		t.Errorf("%+v", f)
	}
}

// The context ends it.
func TestContext(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	err := NewListener(Options{}).Listen(ctx, synth.Recording{Seed: 1, Duration: 600}.Render())
	if err != context.DeadlineExceeded {
		t.Errorf("error %v", err)
	}
}
