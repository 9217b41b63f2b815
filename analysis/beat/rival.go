package beat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// A second movement within earshot is told by what is heard between the beats of the
// one that is followed: sounds that come evenly, at a period of their own.
const (
	// batch is how many sounds are judged together, at most, and batchSeconds how
	// long they are waited for.
	batch        = 240
	batchSeconds = 300
	// leastRival is how many of them a movement has made at least.
	leastRival = 30
	// smear is how far from its place the loudest millisecond of a beat may be, s.
	smear = 12e-3
	// steadily is by how much sounds move at least, s, against the beats followed
	// where they come at a multiple of their period: those are else of the movement
	// itself.
	steadily = 2e-3
	// unlikeCount is by what part of itself a count differs at the least from another's, and from its
	// multiples, for its sounds to be no contacts that move against their beats before a stop,
	// when lifts are so long that they lie between beats.
	unlikeCount = 0.02
)

// sound is one that was heard between two beats.
type sound struct {
	at    float64 // frames
	level float64 // over that of the beats around it, dB
	extra *Event  // that it is, if it is no other movement's; nil where it is too weak
}

// rival is another movement.
type rival struct {
	hz    float64 // beats a second
	beats int     // heard of it
	level float64 // sum of theirs over those of the beats followed, dB
	phase float64 // of time 0 against its beats, in beats
}

// takeSound takes a sound between two beats.
func (t *tracker) takeSound(s sound) {
	if n := len(t.sounds); n >= batch || n > 0 && s.at-t.sounds[0].at > batchSeconds*t.model.rate {
		t.judgeSounds()
	}
	t.sounds = append(t.sounds, s)
}

// judgeSounds decides which of the sounds gathered are the beats' own, or another movement's. The
// rest are events as far as they are loud.
func (t *tracker) judgeSounds() {
	at := make([]float64, len(t.sounds))
	for i, s := range t.sounds {
		at[i] = s.at / t.model.rate
	}
	own := t.ownAmong(at)
	var its []bool
	if own == nil {
		its = t.rivalAmong(at)
	}
	for i, s := range t.sounds {
		switch {
		case own != nil && own[i]:
		case its != nil && its[i]:
			t.rival.beats++
			t.rival.level += s.level
		case s.extra != nil:
			t.out.Events = append(t.out.Events, *s.extra)
		}
	}
	t.sounds = t.sounds[:0]
}

// beatsPerSecond is how often the movement followed beats, as it is now.
func (t *tracker) beatsPerSecond() float64 {
	if t.k != nil {
		return t.model.rate / t.k.tau
	}
	return 2 * t.model.rate / t.model.period
}

// ownAmong returns which of the sounds at times in seconds are contacts of the movement followed
// that lie between its beats, of both sides or of one: when a lift is that long. It is nil where
// there are none.
func (t *tracker) ownAmong(at []float64) []bool {
	if len(at) < leastRival {
		return nil
	}
	own := t.beatsPerSecond()
	for _, hz := range []float64{own, own / 2} {
		if c := newComb(at, hz); c.plain() && c.of(own) {
			return c.in
		}
	}
	return nil
}

// rivalAmong returns which of the sounds at times in seconds are of another movement,
// nil where none is heard. Where none was in one batch, the next few are not searched.
func (t *tracker) rivalAmong(at []float64) []bool {
	if len(at) < leastRival {
		c := comb{hz: t.rival.hz, phase: t.rival.phase, at: at, in: make([]bool, len(at))}
		return c.ringing() // by the last batch
	}
	span := at[len(at)-1] - at[0]
	own := t.beatsPerSecond()
	if known := t.rival.hz; known > 0 {
		for d := -3.0; d <= 3; d += 0.5 {
			if c := newComb(at, known+d/span); c.plain() && !c.of(own) {
				t.rival.hz, t.rival.phase = c.hz, c.phase
				return c.ringing()
			}
		}
	}
	if t.idle > 0 {
		t.idle--
		return nil
	}
	var best *comb
	for hz := slowestRival; hz <= fastestRival; hz += 0.25 / span {
		if c := newComb(at, hz); c != nil && (best == nil || float64(c.n) > 1.25*float64(best.n)) && c.plain() && !c.of(own) {
			best = c
		}
	}
	if best == nil {
		t.patience = min(2*t.patience+1, 63)
		t.idle = t.patience
		return nil
	}
	t.rival.hz, t.rival.phase, t.patience = best.hz, best.phase, 0
	return best.ringing()
}

// The beats a second of the slowest and the fastest movement.
const (
	slowestRival = 1200. / 3600
	fastestRival = 43200. / 3600
)

// comb is how sounds lie on a grid of so many places a second.
type comb struct {
	hz    float64
	at    []float64
	in    []bool // within smear of a place
	n     int
	phase float64 // of time 0 against a place, in places
}

// newComb lays sounds on a grid, and refines that; nil where they are spread all
// over.
func newComb(at []float64, hz float64) *comb {
	const together = 0.5 // mean resultant length
	var sin, cos float64
	for _, t := range at {
		s, c := math.Sincos(2 * math.Pi * math.Mod(hz*t, 1))
		sin += s
		cos += c
	}
	if math.Hypot(sin, cos) < together*float64(len(at)) {
		return nil
	}
	c := &comb{hz: hz, at: at, in: make([]bool, len(at))}
	c.phase = math.Atan2(sin, cos) / (2 * math.Pi)
	const rounds = 9 // enough for the grid to settle
	reach := 0.25
	for range rounds {
		c.fit(reach)
		reach = max(reach/2, smear*hz)
	}
	return c
}

// ringing returns which sounds are of the movement that makes those in place: what
// rings on, too, where the beat followed hides the place itself.
func (c *comb) ringing() []bool {
	if c.hz == 0 {
		return nil
	}
	out := make([]bool, len(c.at))
	for i, t := range c.at {
		d := c.hz*t - c.phase
		out[i] = c.in[i] || math.Abs(d-math.Round(d)) < 0.3
	}
	return out
}

// fit marks the sounds within reach of a place on the grid, in places, and moves that
// to where they are.
func (c *comb) fit(reach float64) {
	var n, x, y, xx, xy float64
	middle := (c.at[0] + c.at[len(c.at)-1]) / 2
	for i, t := range c.at {
		d := c.hz*t - c.phase
		d -= math.Round(d)
		if c.in[i] = math.Abs(d) < reach; c.in[i] {
			t -= middle
			n, x, y, xx, xy = n+1, x+t, y+d, xx+t*t, xy+t*d
		}
	}
	c.n = int(n)
	if n < leastRival {
		return
	}
	slope := (xy - x*y/n) / (xx - x*x/n)
	c.hz -= slope
	c.phase += (y-slope*x)/n - slope*middle
}

// plain reports whether the sounds in place are more than chance brings together, and most of all.
func (c *comb) plain() bool {
	if c == nil || c.n < leastRival || 2*c.n < len(c.at) {
		return false
	}
	all := float64(len(c.at))
	p := min(1, 2*smear*c.hz)
	const beyond = 7 // standard deviations of a binomial number
	return float64(c.n) >= all*p+beyond*math.Sqrt(all*p*(1-p))
}

// of reports whether the sounds in place are of the movement that beats own times a second.
func (c *comb) of(own float64) bool {
	first, last := math.Inf(1), math.Inf(-1)
	for i, t := range c.at {
		if c.in[i] {
			first, last = min(first, t), t
		}
	}
	span := last - first
	// A sound of one side comes at half of own, and fits multiples of that.
	for _, q := range []float64{2 * c.hz / own, own / c.hz} {
		off := math.Abs(q-max(1, math.Round(q))) / q
		if off*span < steadily || off < unlikeCount && c.bends() {
			return true
		}
	}
	return false
}

// bends reports whether the sounds in place come ever more early or late than evenly, as no
// movement's beats do, but the contacts of one that is about to stop: whether those of the middle
// third of the time lie elsewhere against the grid than those before and after.
func (c *comb) bends() bool {
	first, last := c.at[0], c.at[len(c.at)-1]
	var third [3][]float64
	for i, t := range c.at {
		if c.in[i] {
			d := c.hz*t - c.phase
			k := min(2, int(3*(t-first)/(last-first)))
			third[k] = append(third[k], (d-math.Round(d))/c.hz)
		}
	}
	var means, variances [3]float64 // of the means
	for k, ds := range third {
		if len(ds) < 2 {
			return false
		}
		mean, variance := stat.MeanVariance(ds, nil)
		means[k], variances[k] = mean, variance/float64(len(ds))
	}
	const surely = 3 // standard errors
	bend := (means[0]+means[2])/2 - means[1]
	return math.Abs(bend) > max(steadily/2, surely*math.Sqrt((variances[0]+variances[2])/4+variances[1]))
}

// rivalProblem names the other movement, one sentence; empty where none was heard.
func (t *tracker) rivalProblem() string {
	if t.rival.beats == 0 {
		return ""
	}
	by := t.rival.level / float64(t.rival.beats)
	than := "weaker"
	if by > 0 {
		than = "stronger"
	}
	return fmt.Sprintf("A second movement is within earshot, of %.0f beats an hour and some %.0f dB %s than the one that is followed: its sounds are no events; stop it, or take it out of the room.",
		3600*t.rival.hz, math.Abs(by), than)
}
