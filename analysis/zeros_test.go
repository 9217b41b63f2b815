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
	type stretch struct{ at, last float64 } // s
	oneBeat, betweenTwo, half := stretch{40.19, 0.02}, stretch{46.1, 0.02}, stretch{52.05, 0.5}
	start, some := stretch{0.001, 3.3}, stretch{58.05, 7.77}
	for _, c := range []struct {
		name   string
		snr    float64 // dB
		length float64 // of the recording, s
		zeros  []stretch
	}{
		{"here and there, in a quiet room", 40, 70, []stretch{oneBeat, betweenTwo, half}},
		{"at the start, here and there, to the end", 20, 100, []stretch{start, oneBeat, betweenTwo, half, some, {75.1, 24.9}}},
		{"at the start, long, and nearly to the end", 20, 100, []stretch{{0.001, 25}, {75.1, 24.7}}},
		{"longer than it takes to learn anew, and to the end", 20, 245, []stretch{{40.05, 75}, {145.1, 99.9}}},
	} {
		if testing.Short() && c.snr < 40 {
			continue
		}
		r := recorded(c.length, c.snr)
		r.Recorder.SampleRate = sampled
		for _, z := range c.zeros {
			r.Recorder.Faults = append(r.Recorder.Faults, synth.RecorderFault{Kind: "zeros", Occasion: synth.Occasion{At: z.at}, For: z.last})
		}
		want := r.Truth().Events
		var sink table
		got, err := Run(t.Context(), r.Render(), settings(), &sink)
		if err != nil {
			t.Fatal(err)
		}
		if len(sink.events) != len(want) {
			t.Fatalf("%s: %+v, want %d gaps", c.name, sink.events, len(want))
		}
		for i, e := range sink.events {
			if e.Kind != beat.Gap || math.Abs(e.Start-want[i].Start) > 1.1/sampled || math.Abs(e.End-want[i].End) > 1.1/sampled {
				t.Errorf("%s: %+v, want a gap from %.6f s to %.6f s", c.name, e, want[i].Start, want[i].End)
			}
		}
		if got.Ending.Stopped || len(got.Recording.Problems) != 1 {
			t.Errorf("%s: %+v, problems %q", c.name, got.Ending, got.Recording.Problems)
		}
		for _, b := range sink.rows {
			if n := int64(math.Round((b.Time - sink.rows[0].Time) / 0.2)); n != b.Index {
				t.Fatalf("%s: beat %d is number %d", c.name, n, b.Index)
			}
		}
	}
}
