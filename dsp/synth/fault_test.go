package synth

import (
	"math"
	"slices"
	"testing"
)

// steps returns by how much each beat's displacement against the oscillator
// differs from that of the beat before, in seconds.
func steps(beats []Beat) []float64 {
	d := make([]float64, len(beats))
	for i := 1; i < len(beats); i++ {
		d[i] = (beats[i].Time - beats[i].Steady) - (beats[i-1].Time - beats[i-1].Steady)
	}
	return d
}

func TestFaultsDoWhatTheTruthSays(t *testing.T) {
	tests := []struct {
		fault Fault
		check func(t *testing.T, truth *Truth, e Event)
	}{
		{Fault{Kind: "late", Occasion: Occasion{At: 20}, Size: 5e-3}, func(t *testing.T, truth *Truth, e Event) {
			near(t, "shift", e.Shift, 5e-3, 0)
			near(t, "step", steps(truth.Beats)[e.Beat], 5e-3, 1e-9)
			near(t, "lost", truth.Lost(), 5e-3, 1e-12)
			near(t, "later beats", truth.Beats[150].Time-truth.Beats[150].Steady, 5e-3, 1e-9)
		}},
		{Fault{Kind: "early", Occasion: Occasion{At: 20}, Size: 5e-3}, func(t *testing.T, truth *Truth, e Event) {
			near(t, "shift", e.Shift, -5e-3, 0)
			near(t, "step", steps(truth.Beats)[e.Beat], -5e-3, 1e-9)
		}},
		{Fault{Kind: "missed", Occasion: Occasion{At: 20}, Beats: 3}, func(t *testing.T, truth *Truth, e Event) {
			for i, b := range truth.Beats {
				silent := int64(i) >= e.Beat && int64(i) < e.Beat+3
				if b.Audible == silent {
					t.Errorf("beat %d: audible is %v", i, b.Audible)
				}
			}
			near(t, "end", e.End, truth.Beats[e.Beat+2].Time, 0)
			near(t, "phase held", truth.Beats[150].Time-truth.Beats[150].Steady, 0, 1e-9)
		}},
		{Fault{Kind: "extra", Occasion: Occasion{At: 20}, Level: -3}, func(t *testing.T, truth *Truth, e Event) {
			if e.Start < truth.Beats[e.Beat].Time+0.05 || e.Start > truth.Beats[e.Beat+1].Time-0.05 {
				t.Errorf("an extra sound at %g lies on a beat", e.Start)
			}
			near(t, "level", e.Level, -3, 1e-9)
		}},
		{Fault{Kind: "stop", Occasion: Occasion{At: 20}, Size: 3.3}, func(t *testing.T, truth *Truth, e Event) {
			near(t, "start", e.Start, truth.Beats[e.Beat].Time, 0)
			near(t, "end", e.End, truth.Beats[e.Beat+1].Time, 0)
			near(t, "standstill", e.End-e.Start, 3.3+0.2, 1e-9)
		}},
	}
	for _, test := range tests {
		t.Run(test.fault.Kind, func(t *testing.T) {
			rec := Recording{Seed: 2, Duration: 40, Movement: Movement{Jitter: -1, Faults: []Fault{test.fault}}}
			truth := rec.Truth()
			if len(truth.Events) != 1 || truth.Events[0].Kind != test.fault.Kind {
				t.Fatalf("events are %v", truth.Events)
			}
			e := truth.Events[0]
			if e.Start < 19.7 || e.Start > 20.4 {
				t.Errorf("it happens at %g s", e.Start)
			}
			test.check(t, truth, e)
		})
	}
}

func TestMovementStopsForGood(t *testing.T) {
	for name, m := range map[string]Movement{
		"by its spring": {Mainspring: Mainspring{RunTime: 60, Full: 280, End: 100}, Least: 150},
		"by decree":     {Stop: 50},
	} {
		truth := Recording{Seed: 4, Duration: 90, Movement: m}.Truth()
		if len(truth.Events) != 1 {
			t.Fatalf("%s: events are %v", name, truth.Events)
		}
		e, last := truth.Events[0], truth.Beats[len(truth.Beats)-1]
		if e.Kind != "stop" || e.Start != last.Time || e.End != 90 || last.Time > 60 || last.Time < 45 {
			t.Errorf("%s: it stops with %+v", name, e)
		}
	}
}

func TestBadToothActsAtItsOwnBeats(t *testing.T) {
	rec := Recording{
		Seed:     6,
		Duration: 3600,
		Movement: Movement{Jitter: -1, Recurrences: BadTooth(15, 7, 22, 0.2, 4e-3)},
	}
	truth := rec.Truth()
	count := map[int64]int{}
	for _, e := range truth.Events {
		count[e.Beat%30]++
		near(t, "step", steps(truth.Beats[e.Beat-1 : e.Beat+1])[1], 4e-3, 1e-9)
	}
	// 600 turns, each pallet in one of five: 120, standard deviation 9.8.
	if len(count) != 2 || math.Abs(float64(count[7]-120)) > 40 || math.Abs(float64(count[22]-120)) > 40 {
		t.Errorf("events by beat in the turn: %v", count)
	}
}

func TestRecurrenceOfFractionalPeriod(t *testing.T) {
	c := Recurrence{Period: 12.5, Phase: 3}
	var got []int64
	for i := range int64(60) {
		if c.due(i) {
			got = append(got, i)
		}
	}
	if want := []int64{3, 16, 28, 41, 53}; !slices.Equal(got, want) {
		t.Errorf("due at %v, not %v", got, want)
	}
}

func TestDisplacedBeatLeavesTheOthers(t *testing.T) {
	m := Movement{Jitter: -1, Recurrences: []Recurrence{{Period: 20, Phase: 5, Effect: "displaced", Size: 2e-3}}}
	for b := range m.Beats(1, 60) {
		want := 0.0
		if b.Index%20 == 5 {
			want = 2e-3
		}
		near(t, "displacement", b.Time-b.Steady, want, 1e-9)
	}
}

func TestModulation(t *testing.T) {
	m := Movement{Jitter: -1, Modulations: []Modulation{{Period: 37.5, PeakToPeak: 1e-3, Phase: 10}}}
	for b := range m.Beats(1, 60) {
		if b.Index == 10 || b.Index == 85 {
			near(t, "latest point", b.Time-b.Steady, 0.5e-3, 1e-9)
		}
		if math.Abs(b.Time-b.Steady) > 0.5e-3+1e-12 {
			t.Errorf("beat %d is displaced by %g s", b.Index, b.Time-b.Steady)
		}
	}
}
