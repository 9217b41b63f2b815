package prose

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/live"
)

// Going is how a recording goes.
type Going struct {
	Elapsed float64 // s
	Peak    float64 // of the loudest channel over the last second, dBFS
	RMS     float64 // likewise
	Beat    live.Figures
	Left    float64 // s that the disk has room for; NaN where it is not known
}

// Status says in one line how a recording goes.
func Status(g Going) string {
	text := Elapsed(g.Elapsed) + "  " + loudness(g.Peak, g.RMS) + "  "
	switch f := &g.Beat; {
	case !f.Found:
		text += "no beat yet"
	case math.IsNaN(f.Rate.X):
		text += "a beat is heard"
	default:
		text += fmt.Sprintf("%s beats/h, %s, %.1f%s%% heard", PerHour(analysis.Number(f.PerHour.X)),
			SignedWithError(analysis.Number(f.Rate.X), analysis.Number(f.Rate.SE), "s/day"), 100*float64(f.Heard)/float64(f.Counted), space)
	}
	if !math.IsNaN(g.Left) {
		text += fmt.Sprintf("  disk: %s%sh", Grouped(int64(g.Left/3600)), space)
	}
	return text
}

func loudness(peak, rms float64) string {
	if math.IsInf(peak, -1) {
		return "silence"
	}
	return fmt.Sprintf("peak %s, level %s"+after("dBFS"), unsigned(peak, 0), unsigned(rms, 0))
}

// Elapsed writes a time since the start as hours, minutes and seconds.
func Elapsed(seconds float64) string {
	s := int64(seconds)
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}
