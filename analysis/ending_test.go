package analysis

import (
	"testing"

	"rundown/analysis/beat"
	"rundown/dsp/synth"
)

func TestEnding(t *testing.T) {
	for _, c := range []struct {
		name  string
		stops []int64 // last beats before them; the beats are a second apart
		last  int64
		want  Ending
	}{
		{"no stop", nil, 999, Ending{Last: 999}},
		{"stopped for good", []int64{999}, 999, Ending{Last: 999, Stopped: true}},
		{"stopped on the way", []int64{500}, 999, Ending{Last: 999, Stops: 1}},
		{"stopped on the way, then for good", []int64{300, 500, 999}, 999, Ending{Last: 999, Stops: 2, Stopped: true}},
		{"a few beats more, then for good", []int64{900, 907, 912}, 912, Ending{Last: 900, Restarts: 2, Beats: 12, Stopped: true}},
		{"a few beats more as the recording ends", []int64{500, 900}, 904, Ending{Last: 900, Stops: 1, Restarts: 1, Beats: 4}},
		{"a few beats on the way", []int64{300, 305}, 999, Ending{Last: 999, Stops: 2}},
		{"never more than a few", []int64{20, 30}, 49, Ending{Last: 20, Restarts: 2, Beats: 29}},
	} {
		var f endingFinder
		for _, b := range c.stops {
			f.stop(beat.Event{Kind: beat.Stop, Beat: b, Start: float64(b)})
		}
		if got := f.finish(c.last, float64(c.last), float64(c.last)); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

// TestHiddenEnding takes the sound of a movement away for the rest of a recording and
// expects the movement to have stopped only where it did.
func TestHiddenEnding(t *testing.T) {
	at := synth.Occasion{At: 40}
	for _, c := range []struct {
		name   string
		change func(r *synth.Recording)
		want   Ending // without its times
	}{
		{"drowned", func(r *synth.Recording) {
			r.Room.Sounds = []synth.RoomSound{{Kind: "white", Occasion: at, For: 60, Level: 15}}
		}, Ending{Hidden: beat.Masked}},
		{"gain down by 20 dB and something as loud", func(r *synth.Recording) {
			r.Recorder.Faults = []synth.RecorderFault{{Kind: "gain", Occasion: at, Level: -20}}
			r.Room.Sounds = []synth.RoomSound{{Kind: "white", Occasion: at, For: 60, Level: 20}}
		}, Ending{Hidden: beat.Masked}},
		{"dead", func(r *synth.Recording) {
			r.Recorder.Faults = []synth.RecorderFault{{Kind: "dead", Occasion: at}}
		}, Ending{Hidden: beat.Gap}},
		{"stopped, then zeros", func(r *synth.Recording) {
			r.Movement.Stop = 40
			r.Recorder.Faults = []synth.RecorderFault{{Kind: "zeros", Occasion: synth.Occasion{At: 60}, For: 40}}
		}, Ending{Stopped: true}},
		{"stopped in the noise", func(r *synth.Recording) {
			r.Movement.Stop = 50
			r.Room.Sounds = []synth.RoomSound{{Kind: "white", Occasion: at, For: 20, Level: 15}}
		}, Ending{Stopped: true}},
	} {
		r := recorded(100, 35)
		c.change(&r)
		got, err := Run(t.Context(), r.Render(), settings(), new(table))
		if err != nil {
			t.Fatal(err)
		}
		if e := got.Ending; e == nil || e.Stopped != c.want.Stopped || e.Hidden != c.want.Hidden || !(e.Last > 39 && e.Last < 90) {
			t.Errorf("%s: %+v, want %+v", c.name, e, c.want)
		}
	}
}
