package chart

import (
	"fmt"
	"math"

	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/prose"
)

// Hesitations draws the size of every late and early event, against elapsed
// time and against position in a turn: of what brings hesitations round most
// strongly, or where nothing does, of the wheel given. A wheel of no beats is
// not known, and leaves the second panel out unless something comes round.
func Hesitations(r Run, found []fault.Recurrence, wheel Turn) *Figure {
	late, early := r.shifts(beat.Late), r.shifts(beat.Early)
	sizes := logAxis("time lost or gained (ms)", sizeSpan(late, early))
	sizes.Unit = "ms"
	over := &Panel{X: elapsedAxis(r.time(), mostTimes), Y: sizes}
	over.addShifts(late, early, func(e shift) float64 { return e.time })
	f := newFigure("Hesitations: the size of each", r.Heading, over)
	if len(late)+len(early) == 0 {
		over.Banner = r.without("no hesitation was found")
		return f
	}
	f.note("Late: time is lost for good; early: time is gained. Equal steps upwards are equal ratios.")
	if n := max(late.thinned(), early.thinned()); n > 1 {
		f.note(fmt.Sprintf("Of more than %d of a kind, one in %d or so is drawn.", mostShifts, n))
	}
	if about, ok := turnOf(found, wheel); ok {
		turn := &Panel{X: about.axis(), Y: sizes}
		turn.Areas = append(turn.Areas, about.zebra(turn))
		turn.addShifts(late, early, func(e shift) float64 {
			return about.position(float64(e.beat)) + 0.8*about.pitch()*(e.time/r.time().hi-0.5)
		})
		f.note("Below, the run goes from left to right within each place of the turn.")
		turn.pin(found, func(q fault.Recurrence) (float64, bool) {
			return about.position(q.PhaseBeats), q.Kind == fault.Events && about.ComesRound(q)
		})
		for i := range turn.Series[:2] {
			turn.Series[i].Name = "" // named above
		}
		f.Panels = append(f.Panels, turn)
		f.height = 400
	}
	return f
}

// shift is a hesitation, its size in milliseconds.
type shift struct {
	time float64 // s
	beat int64
	size float64
}

type shifts []shift

// shifts are the events of a kind that a logarithmic axis can show.
func (r Run) shifts(kind beat.Kind) shifts {
	var all shifts
	for _, e := range of(r.Events, kind) {
		if size := 1e3 * math.Abs(e.Shift); size > 0 && finite(size) && r.time().contains(e.Start) {
			all = append(all, shift{e.Start, e.Beat, size})
		}
	}
	return all
}

// mostShifts is about how many of a kind are drawn.
const mostShifts = 4000

// thinned is one in how many that is.
func (s shifts) thinned() int { return 1 + len(s)/mostShifts }

// sizeSpan is the range of an axis of sizes.
func sizeSpan(kinds ...shifts) span {
	s := span{math.Inf(1), 0}
	for _, kind := range kinds {
		for _, e := range kind {
			s = s.including(e.size)
		}
	}
	if s.hi == 0 {
		return span{0.1, 10}
	}
	return span{s.lo / 1.5, s.hi * 1.5}
}

// addShifts adds hesitations at places along the panel, smaller where there are
// many.
func (p *Panel) addShifts(late, early shifts, place func(shift) float64) {
	size := 2.4
	if len(late)+len(early) > 300 {
		size = 1.2
	}
	for _, kind := range []struct {
		name string
		of   shifts
		mark Mark
		ink  Ink
	}{{"late", late, Dot, rust}, {"early", early, Ring, dark}} {
		s := Series{Ink: kind.ink, Mark: kind.mark, Size: size}
		for i := 0; i < len(kind.of); i += kind.of.thinned() {
			s.X, s.Y = append(s.X, place(kind.of[i])), append(s.Y, math.Log10(kind.of[i].size))
		}
		if len(kind.of) > 0 {
			s.Name = fmt.Sprintf("%s (%s)", kind.name, prose.Grouped(int64(len(kind.of))))
		}
		p.Series = append(p.Series, s)
	}
}

// turnOf is the turn in which hesitations come round: the wheel given, where it
// is that or nothing else is.
func turnOf(found []fault.Recurrence, wheel Turn) (Turn, bool) {
	for _, q := range found {
		if q.Kind == fault.Events && q.PeriodBeats > 0 && finite(q.PeriodBeats) {
			if wheel.Beats > 0 && wheel.ComesRound(q) {
				return wheel, true
			}
			return Turn{Arbor: q.Match, Beats: q.PeriodBeats}, true
		}
	}
	return wheel, wheel.Beats > 0
}
