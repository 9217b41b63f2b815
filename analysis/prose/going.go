package prose

import (
	"fmt"
	"math"
	"strings"

	"rundown/analysis"
	"rundown/analysis/fitness"
	"rundown/analysis/live"
)

// Going is how a recording goes.
type Going struct {
	Elapsed float64 // s
	Beat    live.Figures
	Left    float64 // s that the disk has room for; NaN where it is not known
}

// Status says in one line how a recording goes, whose loudest channel had a peak
// and a level of so many dBFS since the last time.
func Status(g Going, peak, rms float64) string {
	text := Elapsed(g.Elapsed) + "  " + loudness(peak, rms) + "  "
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
	return fmt.Sprintf("peak %s, level %s"+after("dBFS"), Unsigned(peak, 0), Unsigned(rms, 0))
}

// Elapsed writes a time since the start as hours, minutes and seconds.
func Elapsed(seconds float64) string {
	s := int64(seconds)
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

// OnBattery warns of a battery.
const OnBattery = "The computer runs on its battery. Plug it in."

// LittleSpace warns of a disk that has room for so many seconds.
func LittleSpace(seconds float64) string {
	return "The disk has room for " + Span(analysis.Number(seconds)) + " more. Free some space on it."
}

// SilentChannel warns of a channel, from 1.
func SilentChannel(channel int) string {
	return fmt.Sprintf("Channel %d is silent. Check its plug, or record one channel with --channels 1.", channel)
}

// Warning says what is wrong with a recording, and what to do.
func Warning(r fitness.Reason) string {
	what := What(r)
	return strings.ToUpper(what[:1]) + what[1:] + ". " + Remedy(r)
}
