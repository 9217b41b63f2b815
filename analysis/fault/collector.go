package fault

import (
	"math"

	"rundown/analysis/beat"
)

const (
	// chunkBeats is how many beats one chunk of memory holds, half a MiB.
	chunkBeats = 1 << 17
	// maxBeats bounds what a Collector keeps: eight days at 28 800 an hour and
	// some more, in 24 MB.
	maxBeats = 6_000_000
	// maxEvents bounds the events of each group that are kept: 16 bytes each.
	maxEvents = 40_000
)

// Collector gathers a run, beat by beat, and finds in the end what comes round
// in it. It keeps 4 bytes for every beat and 16 for every event: 22 MB for
// eight days at 28 800 beats an hour, to which the search adds some 30 MB for a
// moment. Beats past the 6 millionth, and events past the 40 000th of a kind, are
// left out. The zero value is ready for use.
//
// Append is called until the run is over; then the other methods may be called,
// as often as liked, and Append no more.
type Collector struct {
	first   int64       // beat number of the first beat
	n       int64       // beats so far, heard or not
	steps   [][]float32 // change of x since the last beat heard, NaN where not heard
	pending []step      // displacements still to come
	groups  [nGroups][]occurrence
	cuts    []int64 // beats from which on all later ones are displaced

	heard              int64
	start, end         float64 // times of the first and the last beat heard, less displacements
	startBeat, endBeat int64   // their numbers
	interval           float64 // that between the first two, by which x is kept small
	moved              float64 // sum of all displacements so far
	x                  float64 // of the last beat heard, as the rounded steps add up

	done *run
}

// step is a displacement of all beats from beat on.
type step struct {
	beat  int64
	shift float64
}

// occurrence is an event to look for recurrences in.
type occurrence struct {
	beat  int64
	shift float64 // seconds
}

// The groups of events, each searched on its own.
const (
	displaced = iota // late, early, stop
	unheard          // missed
	added            // extra
	nGroups
)

// Append takes the next beats of the run, in order, and the events among them.
// An event that displaces beats must arrive no later than the first beat that
// it displaces.
func (c *Collector) Append(beats []beat.Beat, events []beat.Event) {
	if c.done != nil {
		panic("fault: Append after the end of the run")
	}
	for _, e := range events {
		c.event(e)
	}
	for _, b := range beats {
		c.beat(b)
	}
}

func (c *Collector) event(e beat.Event) {
	switch e.Kind {
	case beat.Late, beat.Early:
		c.keep(displaced, e.Beat, e.Shift)
	case beat.Stop:
		c.keep(displaced, e.Beat+1, e.Shift) // the beat that came so late
	case beat.Missed:
		c.keep(unheard, e.Beat, 0)
	case beat.Extra:
		c.keep(added, e.Beat, 0)
	}
	if e.Shift == 0 {
		return
	}
	from := e.Beat
	if e.Kind == beat.Stop {
		from++
	}
	c.pending = append(c.pending, step{from, e.Shift})
	if len(c.cuts) < maxEvents {
		c.cuts = append(c.cuts, from)
	}
}

func (c *Collector) keep(group int, beat int64, shift float64) {
	if len(c.groups[group]) < maxEvents {
		c.groups[group] = append(c.groups[group], occurrence{beat, shift})
	}
}

func (c *Collector) beat(b beat.Beat) {
	if c.n == 0 {
		c.first = b.Index
	}
	at := b.Index - c.first
	if at < c.n || at >= maxBeats {
		return
	}
	c.displace(b.Index)
	for c.n < at {
		c.store(math.NaN())
	}
	if !b.Heard {
		c.store(math.NaN())
		return
	}
	c.hear(b)
}

// displace takes up the displacements that begin at or before beat n.
func (c *Collector) displace(n int64) {
	if len(c.pending) == 0 {
		return
	}
	left := c.pending[:0]
	for _, s := range c.pending {
		if s.beat <= n {
			c.moved += s.shift
		} else {
			left = append(left, s)
		}
	}
	c.pending = left
}

// hear stores the beat's x, its time less displacements and a whole number of
// reference intervals, as the step from the last one. What the rounding to 24
// bits takes away is made good at the next beat, so that errors don't add up.
func (c *Collector) hear(b beat.Beat) {
	t := b.Time - c.moved
	switch c.heard {
	case 0:
		c.start, c.startBeat = t, b.Index
	case 1:
		c.interval = (t - c.end) / float64(b.Index-c.endBeat)
	}
	c.heard++
	x := t - c.start - c.interval*float64(b.Index-c.startBeat)
	d := float32(x - c.x)
	c.x += float64(d)
	c.end, c.endBeat = t, b.Index
	c.store(float64(d))
}

func (c *Collector) store(d float64) {
	if c.n%chunkBeats == 0 {
		c.steps = append(c.steps, make([]float32, 0, chunkBeats))
	}
	last := &c.steps[len(c.steps)-1]
	*last = append(*last, float32(d))
	c.n++
}
