package chart

import (
	"fmt"
	"math"

	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/prose"
)

const (
	// mostShifts is about how many hesitations of a kind are drawn.
	mostShifts = 4000
	// manyShifts is above how many they are drawn small.
	manyShifts = 300
)

// Hesitations draws the size of every late and early event, against elapsed
// time and against position in a turn: of what brings hesitations round most
// strongly, or where nothing does, of the wheel given. A wheel of no beats is
// not known, and leaves the second panel out unless something comes round.
func Hesitations(r Run, found []fault.Recurrence, wheel Turn) *Figure {
	over := r.sizes(elapsedAxis(r.time(), mostTimes), func(e beat.Event) float64 { return e.Start })
	f := newFigure("Hesitations: the size of each", r.Heading, over)
	n := max(len(of(r.Events, beat.Late)), len(of(r.Events, beat.Early)))
	if n == 0 {
		over.Banner = r.without("no hesitation was found")
		return f
	}
	f.note("Late: time is lost for good; early: time is gained. Equal steps upwards are equal ratios.")
	if n > mostShifts {
		f.note(fmt.Sprintf("Of more than %d of a kind, one in %d or so is drawn.", mostShifts, oneIn(n)))
	}
	about, ok := turnOf(found, wheel)
	if !ok {
		return f
	}
	turn := r.sizes(about.axis(), func(e beat.Event) float64 {
		return about.position(float64(e.Beat)) + 0.8*about.pitch()*(e.Start/r.time().hi-0.5)
	})
	for i := range turn.Series {
		turn.Series[i].Name = "" // named above
	}
	turn.Areas = append(turn.Areas, about.zebra(turn))
	turn.pin(found, func(q fault.Recurrence) (float64, bool) {
		return about.position(q.PhaseBeats), q.Kind == fault.Events && q.ComesRoundIn(about.Beats)
	})
	f.note("Below, the run goes from left to right within each place of the turn.")
	f.Panels, f.height = append(f.Panels, turn), 400
	return f
}

// sizes is a panel of the size of every late and early event at its place along
// an axis.
func (r Run) sizes(x Axis, place func(beat.Event) float64) *Panel {
	p, all := &Panel{X: x}, span{math.Inf(1), 0}
	for _, kind := range []beat.Kind{beat.Late, beat.Early} {
		events := of(r.Events, kind)
		s := Series{Ink: laneSigns[kind].Ink, Mark: map[beat.Kind]Mark{beat.Late: Dot, beat.Early: Ring}[kind], Size: 2.4}
		if len(r.Events) > manyShifts {
			s.Size = 1.2
		}
		for i := 0; i < len(events); i += oneIn(len(events)) {
			size := 1e3 * math.Abs(events[i].Shift)
			if size > 0 && finite(size) && r.time().contains(events[i].Start) {
				s.X, s.Y = append(s.X, place(events[i])), append(s.Y, math.Log10(size))
				all = all.including(size)
			}
		}
		if len(s.X) > 0 {
			s.Name = fmt.Sprintf("%s (%s)", kind, prose.Grouped(int64(len(events))))
		}
		p.Series = append(p.Series, s)
	}
	if all.hi == 0 {
		all = span{0.1, 10}
	}
	p.Y = logAxis("time lost or gained (ms)", span{all.lo / 1.5, all.hi * 1.5})
	p.Y.Unit = "ms"
	return p
}

// oneIn says one in how many of so many hesitations is drawn.
func oneIn(n int) int { return 1 + n/mostShifts }

// turnOf is the turn in which hesitations come round: the wheel given, where it
// is that or nothing else is.
func turnOf(found []fault.Recurrence, wheel Turn) (Turn, bool) {
	for _, q := range found {
		if q.Kind == fault.Events && q.PeriodBeats > 0 && finite(q.PeriodBeats) {
			if wheel.Beats > 0 && q.ComesRoundIn(wheel.Beats) {
				return wheel, true
			}
			return Turn{Arbor: q.Match, Beats: q.PeriodBeats}, true
		}
	}
	return wheel, wheel.Beats > 0
}
