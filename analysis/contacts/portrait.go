package contacts

import (
	"math"
)

// Portrait is the sound of a beat at one time of the run: the mean of the beats
// about it, as it stands out of the room.
type Portrait struct {
	At           float64 // true time, s
	Lift, LiftSE float64 // lift time and its standard error, s; 0 where it was not told
	Sides        [2]Sound
}

// Sound is the mean sound of a side's beats.
type Sound struct {
	Samples  []float64
	Start    float64 // of the first sample after the instant that marks the beat, s
	Step     float64 // between samples, s
	Beats    int
	Contacts []Contact
}

// Contact is one of the sounds that a beat is made of.
type Contact struct {
	Name    string  // "unlocking", "impulse", "drop", or "" for another one
	At, SE  float64 // where it sets in after the instant that marks the beat, and the standard error, s
	Unheard bool    // nothing was told from this side's sound there: the other side has it
}

// A portrait takes the beats of so many blocks, and shows a little of what comes
// before the first contact and after the last.
const (
	portraitBlocks = 8
	beforeContacts = 3e-3
	afterContacts  = 8e-3
)

// portraits returns the sound of a beat at the start of the run, in its middle
// and near its end. out is the reading so far; where the lift was not told, the
// portraits are without names.
func (r *reader) portraits(out *Reading, clock func(frame float64) float64) []Portrait {
	n := len(r.blocks)
	few := min(portraitBlocks, (n+2)/3)
	var ps []Portrait
	for _, from := range []int{0, (n - few) / 2, n - few} {
		p := Portrait{At: clock(r.time(from + few/2))}
		if out.Told() {
			p.Lift, p.LiftSE = out.Lift.Lift(p.At)
		}
		for side := range p.Sides {
			p.Sides[side] = r.sound(side, from, from+few, out, &p)
		}
		ps = append(ps, p)
		if n < 3*few {
			break
		}
	}
	return ps
}

// sound returns the mean of the blocks from one to another, for a portrait.
func (r *reader) sound(side, from, to int, out *Reading, p *Portrait) Sound {
	s := Sound{Step: 1 / r.rate}
	first, last := 0.0, 0.0 // after the anchor, s
	mid := 0.0
	if out.Told() {
		mid = out.share[side] * p.Lift
		first, last = mid-p.Lift/2, mid+p.Lift/2
		for _, c := range out.sounds[side] {
			c.SE = math.Hypot(r.onsetSE(), c.At*p.LiftSE)
			c.At *= p.Lift
			s.Contacts = append(s.Contacts, c)
		}
	} else {
		first, last = -0.05*r.period, 0.05*r.period
	}
	places := make([]float64, len(r.blocks))
	for k := range places {
		places[k] = math.NaN()
		if k >= from && k < to {
			places[k] = 0
			s.Beats += r.blocks[k].Sides[side].Beats
		}
	}
	lead := math.Min(r.frames(beforeContacts-first), float64(r.pre)-2+r.anchor[side])
	length := int(math.Min(lead+r.frames(last+afterContacts), float64(r.bins*r.hop)-8))
	s.Samples = r.average(side, places, lead, length)
	s.Start = -lead/r.rate - mid
	return s
}
