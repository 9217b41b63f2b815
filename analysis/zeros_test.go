package analysis

import (
	"math"
	"testing"

	"rundown/analysis/beat"
	"rundown/dsp/synth"
)

// TestZerosAreOneGap writes zeros into recordings and expects one event of each
// stretch of them, from the first to the last, and nothing else to have happened.
func TestZerosAreOneGap(t *testing.T) {
	const sampled = 8000
	for _, c := range []struct {
		name   string
		at     float64 // s
		last   float64 // s; 0 to the end
		length float64 // of the recording, s
	}{
		{"at the start", 0.001, 3.3, 70},
		{"at the start, long", 0.001, 25, 80},
		{"one beat", 40.19, 0.02, 70},
		{"between two beats", 40.1, 0.02, 70},
		{"half a second", 40.05, 0.5, 70},
		{"some seconds", 40.05, 7.77, 70},
		{"longer than it takes to learn anew", 40.05, 75, 145},
		{"to the end", 45.1, 24.9, 70},
		{"to the end, long", 45.1, 99.9, 145},
		{"nearly to the end", 45.1, 24.7, 70},
	} {
		if testing.Short() && c.last < 1 {
			continue
		}
		for _, snr := range []float64{20, 40} {
			if snr > 20 && c.last > 0.5 {
				continue // as in the room above
			}
			r := recorded(c.length, snr)
			r.Recorder.SampleRate = sampled
			r.Recorder.Faults = []synth.RecorderFault{{Kind: "zeros", Occasion: synth.Occasion{At: c.at}, For: c.last}}
			truth := r.Truth()
			var sink table
			got, err := Run(t.Context(), r.Render(), settings(), &sink)
			if err != nil {
				t.Fatal(err)
			}
			want := truth.Events[0]
			if len(sink.events) != 1 || sink.events[0].Kind != beat.Gap || math.Abs(sink.events[0].Start-want.Start) > 1.1/sampled || math.Abs(sink.events[0].End-want.End) > 1.1/sampled {
				t.Errorf("%s, %g dB: %+v, want a gap from %.6f s to %.6f s", c.name, snr, sink.events, want.Start, want.End)
			}
			if got.Ending.Stopped || len(got.Recording.Problems) != 1 {
				t.Errorf("%s, %g dB: %+v, problems %q", c.name, snr, got.Ending, got.Recording.Problems)
			}
			for _, b := range sink.rows {
				if n := int64(math.Round((b.Time - sink.rows[0].Time) / 0.2)); n != b.Index {
					t.Fatalf("%s, %g dB: beat %d is number %d", c.name, snr, n, b.Index)
				}
			}
		}
	}
}
