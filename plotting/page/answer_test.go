package page

import (
	"strings"
	"testing"

	"rundown/analysis/rate"
)

// TestPartErrors: an error that all windows of a part share is not less for their number, as
// that of their scatter is.
func TestPartErrors(t *testing.T) {
	var ws []rate.Window
	for i := range 4 {
		v := rate.Value{X: 1, SE: 0.04}
		ws = append(ws, rate.Window{Start: 60 * float64(i), End: 60 * float64(i+1), Beats: 300, Heard: 300, Rate: v, Amplitude: v, BeatError: rate.Value{X: 1e-3, SE: 0.04e-3}})
	}
	for _, c := range []struct {
		kind      rate.AmplitudeKind
		amplitude string
	}{{rate.Degrees, "0.04"}, {rate.Level, "0.02"}} {
		p := newPart(ws, c.kind)
		for name, x := range map[string][2]string{"rate": {p.Rate, "0.02"}, "amplitude": {p.Amplitude, c.amplitude}, "beat error": {p.BeatError, "0.04"}} {
			if !strings.Contains(x[0], "±\u00a0"+x[1]) {
				t.Errorf("%v: %s %q, want an error of %s", c.kind, name, x[0], x[1])
			}
		}
	}
}
