package beat

import (
	"strings"
	"testing"
)

// Where only one side can be heard, the count may be half of the true one, and
// the summary says so.
func TestOneSideAloneIsTold(t *testing.T) {
	for _, c := range []struct {
		tock float64
		told bool
	}{{-3, false}, {-60, true}} {
		rec := movement(7200, 65, 30)
		rec.Sound.TockLevel = c.tock
		rec.Movement.Jitter = 60e-6 // as evenly as a few tens of them, one side alone comes for sure
		_, report := run(t, rec.Render(), Options{})
		told := strings.Contains(strings.Join(report.Problems, " "), "too quiet to be heard")
		if !report.Found || told != c.told {
			t.Errorf("tock at %g dB: told is %v, want %v: %+v", c.tock, told, c.told, report)
		}
	}
}
