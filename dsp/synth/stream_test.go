package synth

import (
	"math"
	"slices"
	"testing"
)

// kinds returns the truth's events of one kind.
func kinds(truth *Truth, kind string) []Event {
	return slices.DeleteFunc(slices.Clone(truth.Events), func(e Event) bool { return e.Kind != kind })
}

func TestChangingOneMovesNoOther(t *testing.T) {
	base := Recording{Seed: 11, Duration: 600}
	base.Movement.Faults = []Fault{
		{Kind: "late", Occasion: Occasion{PerHour: 60}, Size: 2e-3, Upto: 9e-3},
		{Kind: "missed", Occasion: Occasion{PerHour: 60}},
	}
	base.Room.Sounds = []RoomSound{{Kind: "slam", Occasion: Occasion{PerHour: 30}}}
	want := base.Truth()

	tests := map[string]struct {
		change func(*Recording)
		jitter bool // beats may move by their jitter
	}{
		"noise": {change: func(r *Recording) { r.Room.Noise = "rain" }},
		"sound": {change: func(r *Recording) { r.Sound.Modes = 3; r.Sound.ContactScatter = 1e-5 }},
		"room sound": {change: func(r *Recording) {
			r.Room.Sounds = append(r.Room.Sounds, RoomSound{Kind: "white", Occasion: Occasion{PerHour: 9}})
		}},
		"recorder": {change: func(r *Recording) {
			r.Recorder.Faults = []RecorderFault{{Kind: "gain", Level: 6, Occasion: Occasion{PerHour: 9}}}
		}},
		"fault": {change: func(r *Recording) {
			r.Movement.Faults = append(r.Movement.Faults, Fault{Kind: "extra", Occasion: Occasion{PerHour: 99}})
		}},
		"recurrence": {change: func(r *Recording) {
			r.Movement.Recurrences = []Recurrence{{Period: 30, Effect: "missed", Probability: 0.1}}
		}},
		"jitter": {change: func(r *Recording) { r.Movement.Jitter = 50e-6 }, jitter: true},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			rec := base
			test.change(&rec)
			got := rec.Truth()
			tolerance := 0.0
			if test.jitter {
				tolerance = 1e-3
			}
			if len(got.Beats) != len(want.Beats) {
				t.Fatalf("%d beats, not %d", len(got.Beats), len(want.Beats))
			}
			for i := range got.Beats {
				if math.Abs(got.Beats[i].Time-want.Beats[i].Time) > tolerance {
					t.Fatalf("beat %d moves", i)
				}
			}
			for _, kind := range []string{"late", "slam"} {
				a, b := kinds(got, kind), kinds(want, kind)
				if len(a) != len(b) {
					t.Fatalf("%d %s events, not %d", len(a), kind, len(b))
				}
				for i := range a {
					if a[i].Beat != b[i].Beat || a[i].Shift != b[i].Shift {
						t.Errorf("%s event %d changes from %+v to %+v", kind, i, b[i], a[i])
					}
				}
			}
		})
	}
}

func TestSeedsDiffer(t *testing.T) {
	a, b := Recording{Seed: 1}.Truth(), Recording{Seed: 2}.Truth()
	if a.Beats[0].Time == b.Beats[0].Time {
		t.Error("two seeds give the same start")
	}
}
