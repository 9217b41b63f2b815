package synth

import (
	"math"
	"sort"
)

// passing is one occurrence of a RoomSound.
type passing struct {
	kind       string
	start, end float64 // true seconds
	level      float64 // greatest RMS or peak, dB above the peak of the tick
	seed, num  uint64  // of its own stream
	// shape is its loudness, 0 to 1, at a part 0 to 1 of its time.
	shape func(x float64) float64
	// own is true where the sound fades by itself and shape only describes it.
	own bool
}

// customary tells how long a sound lasts where nothing is said, in seconds.
func customary(kind string) float64 {
	switch kind {
	case "slam":
		return 1.5
	case "knock":
		return 0.02
	case "lorry":
		return 25
	case "gust":
		return 3
	}
	return 5
}

// swell rises and falls as half a sine, squared.
func swell(x float64) float64 {
	s := math.Sin(math.Pi * min(max(x, 0), 1))
	return s * s
}

// plateau rises and falls within a fiftieth of its time.
func plateau(x float64) float64 { return min(1, 50*max(0, min(x, 1-x))) }

// fading falls by 80 dB.
func fading(x float64) float64 { return math.Exp(-math.Log(1e4) * max(0, x)) }

// passings draws all occurrences of the room's sounds, in order of start.
func (r Room) passings(seed uint64, duration float64) []passing {
	var all []passing
	for i, s := range r.Sounds {
		rng := stream(seed, roomStream+purpose(i))
		p := passing{kind: s.Kind, level: s.Level, seed: seed, shape: plateau}
		last := s.For
		setDefault(&last, customary(s.Kind))
		switch s.Kind {
		case "lorry", "gust":
			p.shape = swell
		case "slam", "knock":
			p.shape, p.own = fading, true
		}
		c := newCalendar(s.Occasion, rng)
		for c.next < duration {
			p.start, p.end, p.num = c.next, c.next+last, rng.Uint64()
			all = append(all, p)
			c.due(math.Inf(1))
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].start < all[j].start })
	return all
}

// event returns the passing as an event.
func (p passing) event() Event {
	return Event{Kind: p.kind, Beat: -1, Start: p.start, End: p.end, Level: p.level}
}

// covers reports whether the sound is about as loud as a beat that sounds from
// one true time to another with a given level: whether its RMS lies less than
// 6 dB under the beat's peak. Low rumbling never is.
func (p passing) covers(from, to, level float64) bool {
	if to < p.start || from > p.end || p.kind == "lorry" || p.kind == "gust" {
		return false
	}
	middle := min(max((from+to)/2, p.start), p.end)
	loud := p.level + 20*math.Log10(p.shape((middle-p.start)/(p.end-p.start)))
	return loud > level-6
}

// open returns the passing's texture and the gain that brings it to its level,
// for a tick that peaks at peak.
func (p passing) open(peak, rate float64) (texture, float32) {
	twin := newTexture(p.kind, p.seed, p.num, rate)
	l := measure(twin, min(p.end-p.start, hearing), rate)
	loud := l.rms
	if p.own {
		loud = l.peak
	}
	return newTexture(p.kind, p.seed, p.num, rate), float32(peak * decibels(p.level) / loud)
}
