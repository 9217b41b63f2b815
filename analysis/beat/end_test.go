package beat

import (
	"io"
	"testing"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// TestOneBeatAtTheEnd has a movement that stops, and one beat in its old place where the recording
// ends, as noise may be once in many trials: it stood still to the end.
func TestOneBeatAtTheEnd(t *testing.T) {
	const seconds, stops, lead = 60, 52, 0.03
	rec := movement(18000, seconds, 30)
	samples := func() []float32 {
		x := make([]float32, seconds*sampled)
		if _, err := readFull(rec.Render(), [][]float32{x}, len(x)); err != nil && err != io.EOF {
			t.Fatal(err)
		}
		return x
	}
	on, end := samples(), 0.0
	for _, b := range rec.Truth().Beats {
		if b.Elapsed < seconds-0.04 {
			end = b.Elapsed
		}
	}
	rec.Movement.Faults = []synth.Fault{{Kind: "stop", Occasion: synth.Occasion{At: stops}, Size: 2 * seconds}}
	x := samples()
	from := int((end - lead) * sampled)
	copy(x[from:], on[from:])
	all, _ := run(t, wavio.FromSamples(sampled, x), Options{})
	if n := len(all.Events); n == 0 || all.Events[n-1].Kind != Stop || all.Events[n-1].Note != ToTheEnd {
		t.Errorf("%+v", all.Events)
	}
	if b := all.Beats[len(all.Beats)-1]; b.Time > stops+1 {
		t.Errorf("a beat at %.2f s", b.Time)
	}
}
