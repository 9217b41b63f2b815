package capture

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Sound that is late now and then is not lost; sound that stays away is told once,
// with how much of it there was.
func TestWatch(t *testing.T) {
	const rate = 48000
	for name, c := range map[string]struct {
		missing func(seconds float64) float64 // s of sound that did not come by a time
		want    []string
	}{
		"in time":        {func(float64) float64 { return 0 }, nil},
		"a slow clock":   {func(s float64) float64 { return 200e-6 * s }, nil},
		"late in bursts": {func(s float64) float64 { return []float64{0, 0.1, 2, 1}[int(s)%4] }, nil},
		"a hole": {func(s float64) float64 {
			if s < 100 {
				return 0
			}
			return 0.7
		}, []string{"lost about 0.7 s of sound (33600 samples)"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			w := newWatch(time.Now(), rate)
			var got []string
			for i := range 1800 {
				time.Sleep(100 * time.Millisecond)
				s := float64(i+1) / 10
				if text := w.see(time.Now(), int64(rate*(s-c.missing(s)))); text != "" {
					got = append(got, text)
				}
			}
			if len(got) != len(c.want) {
				t.Fatalf("%s: %q", name, got)
			}
			for i := range got {
				if !strings.Contains(got[i], c.want[i]) {
					t.Errorf("%s: %q does not say %q", name, got[i], c.want[i])
				}
			}
		})
	}
}

// A clock on the wall that runs ahead of the computer's own time is a sleep, told
// once.
func TestWatchSleep(t *testing.T) {
	start := time.Now()
	w := newWatch(start, 48000)
	var got []string
	for i := range 100 {
		awake := time.Duration(i) * time.Second
		wall := awake
		if i > 50 {
			wall += time.Hour
		}
		if text := w.compare(start.Add(awake), awake, wall, int64(48000*i)); text != "" {
			got = append(got, text)
		}
	}
	if len(got) != 1 || !strings.Contains(got[0], "slept, or its clock was set, for 1h0m0s") {
		t.Errorf("%q", got)
	}
}
