package fault

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// namer turns findings into recurrences with names.
type namer struct {
	parts    []part
	interval float64 // seconds from beat to beat
	first    int64   // number of the first beat
	beats    int64   // length of the run
}

// events names a recurrence of events; what tells what they are where they are
// not displacements.
func (n namer) events(f recurring, what string) ranked {
	resolution := (f.window + 2) / f.period / float64(n.beats)
	r := n.name(Events, f.period, f.part, resolution)
	r.PhaseBeats = n.phase(f.phases[0], r.PeriodBeats)
	r.Occurrences, r.Opportunities = len(f.events), f.passed
	r.Size = f.medianShift()
	r.Note = join(what, n.places(f, r.PeriodBeats), r.Note)
	return ranked{r, f.logp}
}

// spikes names a recurrence of beats that are displaced by themselves, by size
// seconds.
func (n namer) spikes(f recurring, size float64) ranked {
	e := n.events(f, fmt.Sprintf("a beat displaced by itself, %d times in %d", len(f.events), f.passed))
	e.Kind = Modulation
	e.Occurrences = int(float64(n.beats) / e.PeriodBeats)
	e.Opportunities = e.Occurrences
	e.Size = size
	return e
}

// wave names a modulation.
func (n namer) wave(m modulation) ranked {
	r := n.name(Modulation, m.period, m.part, m.resolution)
	r.PhaseBeats = n.phase(m.latest, r.PeriodBeats)
	r.Occurrences, r.Opportunities = m.turns, m.turns
	r.Size = m.size
	return ranked{r, m.logp}
}

// contains reports whether the period of a shape that may stand out at a single
// beat explains what returns with another period: the same, or a multiple of it.
func (n namer) contains(shape, other float64) bool {
	k := math.Round(other / shape)
	return k >= 1 && math.Abs(k/other-1/shape)*float64(n.beats) < 0.5
}

// remnant reports whether a wave is no more than what returning events may leave
// behind when they are taken out: it has their period or one of its first
// harmonics, and is weak or small, since shifts are not known to the last percent.
func (n namer) remnant(m modulation, list []ranked) bool {
	const beyondDoubt, leftOver = 1e-9, 0.05
	return slices.ContainsFunc(list, func(r ranked) bool {
		related := n.contains(m.period, r.PeriodBeats) && r.PeriodBeats < (deepest+0.5)*m.period
		return related && (m.logp > math.Log(beyondDoubt) || m.size < leftOver*math.Abs(r.Size))
	})
}

// beside reports whether events come round with the same period as an unevenness of
// so many seconds from peak to peak, and adds that to their note: it is one wheel.
func (n namer) beside(list []ranked, period, size float64) bool {
	i := slices.IndexFunc(list, func(r ranked) bool {
		return r.Kind == Events && n.contains(period, r.PeriodBeats) && n.contains(r.PeriodBeats, period)
	})
	if i < 0 {
		return false
	}
	list[i].Note = join(list[i].Note, fmt.Sprintf("its beats are uneven by %.2g ms besides, without losing time", 1e3*size))
	return true
}

// phase turns a beat counted from the first one into a beat number modulo the
// period.
func (n namer) phase(beat, period float64) float64 {
	const fine = 1e6 // what is finer is rounding error
	at := math.Mod(beat+float64(n.first), period)
	if at < 0 {
		at += period
	}
	return math.Mod(math.Round(at*fine)/fine, period)
}

// name begins a recurrence with its period, match and note. part is that of the
// train where already known, else -1. Periods whose frequencies differ by less
// than the resolution, in cycles per beat, can't be told apart.
func (n namer) name(kind string, period float64, part int, resolution float64) Recurrence {
	r := Recurrence{Kind: kind, PeriodBeats: period}
	switch {
	case part >= 0:
		r.Match = n.parts[part].Name
		r.PeriodBeats = n.parts[part].period
		r.Note = n.rivals(part, resolution)
	case period == 2:
		r.Note = "always on the same side: look at one pallet"
	case len(n.parts) > 0:
		r.Note = n.relation(period, resolution)
	default:
		r.Note = wheelOf(period)
	}
	return r
}

// rivals says which other parts can't be told from the one chosen, and what
// would tell them.
func (n namer) rivals(part int, resolution float64) string {
	var notes []string
	p := n.parts[part]
	for i, q := range n.parts {
		apart := math.Abs(1/p.period - 1/q.period)
		switch {
		case i == part || apart > resolution:
		case p.Beats.Cmp(q.Beats) == 0:
			notes = append(notes, fmt.Sprintf("or %s, which comes round in exactly the same time: no recording can tell", q.Name))
		default:
			// The resolution gets finer as the run gets longer.
			beats := float64(n.beats) * (resolution/apart - 1)
			notes = append(notes, fmt.Sprintf("or %s, %.6g beats: a recording longer by %s would tell", q.Name, q.period, duration(beats*n.interval)))
		}
	}
	return join(notes...)
}

// relation says how a period that no part has is related to one that has.
func (n namer) relation(period, resolution float64) string {
	const most = 6
	for k := 2.0; k <= most; k++ {
		for _, p := range n.parts {
			arbor, isTurn := strings.CutSuffix(p.Name, ", one turn")
			switch {
			case !isTurn:
			case math.Abs(k/p.period-1/period) <= resolution:
				return fmt.Sprintf("%.0f times in one turn of the %s", k, arbor)
			case math.Abs(1/(k*p.period)-1/period) <= resolution:
				return fmt.Sprintf("once in %.0f turns of the %s", k, arbor)
			}
		}
	}
	return "nothing in the train comes round in this time"
}

// wheelOf says which escape wheel would turn in a period, if one would.
func wheelOf(period float64) string {
	const fewest, most = 6, 60
	teeth := period / 2
	if teeth != math.Round(teeth) || teeth < fewest || teeth > most {
		return ""
	}
	return fmt.Sprintf("an escape wheel of %.0f teeth turns in this time", teeth)
}

// places lists the phases of a recurrence that has several.
func (n namer) places(f recurring, period float64) string {
	if len(f.phases) < 2 {
		return ""
	}
	var at []string
	for _, p := range f.phases {
		at = append(at, fmt.Sprintf("%.4g", n.phase(p, period)))
	}
	last := len(at) - 1
	return fmt.Sprintf("at beats %s and %s of the turn", strings.Join(at[:last], ", "), at[last])
}

// duration writes seconds in the unit that suits.
func duration(s float64) string {
	switch {
	case s < 90:
		return fmt.Sprintf("%.0f s", math.Ceil(s))
	case s < 5400:
		return fmt.Sprintf("%.0f min", math.Ceil(s/60))
	}
	return fmt.Sprintf("%.1f h", s/3600)
}

// join strings together what is not empty.
func join(notes ...string) string {
	return strings.Join(slices.DeleteFunc(notes, func(s string) bool { return s == "" }), "; ")
}
