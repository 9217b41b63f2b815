package beat

import (
	"context"
	"io"
	"math"
	"testing"

	"rundown/analysis/acquisition"
	"rundown/dsp/synth"
)

// TestBeginsBeforeAHesitation has a movement that hesitates among its first beats, and
// whose sound was learned from those after that: the first beats are found, in place.
func TestBeginsBeforeAHesitation(t *testing.T) {
	for _, c := range []struct {
		name   string
		at, by float64 // s
	}{{"in six seconds", 6, 3.6e-3}, {"in three", 3, 2e-3}, {"none", 6, 0}} {
		rec := movement(8640, 40, 32)
		rec.Sound = synth.Sound{LowHz: 500, HighHz: 5000, Echo: 5e-3, EchoLevel: -6}
		rec.Movement.Faults = []synth.Fault{{Kind: "late", Occasion: synth.Occasion{At: c.at}, Size: c.by}}
		if c.by == 0 {
			rec.Movement.Faults = nil
		}
		x := make([]float32, 40*sampled)
		if _, err := readFull(rec.Render(), [][]float32{x}, len(x)); err != nil && err != io.EOF {
			t.Fatal(err)
		}
		h := acquisition.Find(context.Background(), x, sampled, acquisition.Options{})
		if h == nil {
			t.Fatalf("%s: no beat", c.name)
		}
		e := learn(x, sampled, h, nil)
		for e.beats[0].at < (c.at+0.2)*sampled {
			e.beats = e.beats[1:]
		}
		f := newFollower(context.Background(), rec.Render(), Options{}, func(*Batch) error { return nil })
		f.channels, f.channel, f.found = [][]float32{x}, 0, h
		f.track(0, e, 0)
		truth := rec.Truth()
		if off, i := nearest(truth, f.batch.Beats[0].Time); i > 1 || math.Abs(off) > 0.02 {
			t.Errorf("%s: the first beat found is number %d, %.1f ms off", c.name, i, 1e3*off)
		}
	}
}

// TestStandstillOutOfBeat has a movement far out of beat that stands still for a while: how
// long, is more than the interval from its last side to its next one.
func TestStandstillOutOfBeat(t *testing.T) {
	rec := movement(7200, 70, 40)
	rec.Movement.BeatError, rec.Movement.Rate = 0.03, 400
	rec.Movement.Faults = []synth.Fault{{Kind: "stop", Occasion: synth.Occasion{At: 45}, Size: 8.3}}
	all, _ := run(t, rec.Render(), Options{})
	truth := rec.Truth()
	if len(all.Events) != 1 || all.Events[0].Kind != Stop || math.Abs(all.Events[0].Shift-truth.Events[0].Shift) > 1e-3 {
		t.Errorf("%+v, want %+v", all.Events, truth.Events)
	}
}
