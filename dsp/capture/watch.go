package capture

import (
	"fmt"
	"math"
	"time"
)

// watch compares the sound that a device gave with the time that passed: what it
// lost by itself, it seldom tells.
type watch struct {
	start time.Time
	rate  float64
	calm  float64       // how late the sound is when nothing is lost, s
	late  float64       // the least lateness of this spell, s
	spell time.Time     // when this one began
	slept time.Duration // told so far
}

// A spell is as long as sound may come late and be there after all; what is
// missing after that, beyond what clocks drift apart, is lost.
const (
	spell     = 5 * time.Second
	leastLost = 0.2 // s
)

func newWatch(now time.Time, rate float64) *watch {
	return &watch{start: now, rate: rate, calm: math.Inf(1), late: math.Inf(1), spell: now}
}

// see is told how many frames had come by a time. It returns what is wrong, or
// an empty text.
func (w *watch) see(now time.Time, frames int64) string {
	// The first count leaves out what the computer slept; the second doesn't.
	return w.compare(now, now.Sub(w.start), now.Round(0).Sub(w.start.Round(0)), frames)
}

// compare is see for the time passed that the computer was awake, and for that
// on the wall.
func (w *watch) compare(now time.Time, awake, wall time.Duration, frames int64) string {
	if slept := wall - awake; slept > w.slept+2*time.Second {
		text := fmt.Sprintf("the computer slept, or its clock was set, for %v: keep it from sleeping", (slept - w.slept).Round(time.Second))
		w.slept = slept
		return text
	}
	w.late = min(w.late, awake.Seconds()-float64(frames)/w.rate)
	if now.Sub(w.spell) < spell {
		return ""
	}
	lost := w.late - w.calm
	w.calm = w.late // clocks drift apart
	w.late, w.spell = math.Inf(1), now
	if lost > leastLost {
		return fmt.Sprintf("the device lost about %.1f s of sound (%.0f samples) without a trace: other programs may keep it or the computer too busy", lost, lost*w.rate)
	}
	return ""
}
