package beat

import (
	"math"
	"slices"

	"rundown/dsp/onset"
)

// shapes follows how the first and last sound of a beat move against its mark,
// in averages over some seconds of beats.
type shapes struct {
	voices   []int         // that are followed
	edges    [2][2]edge    // by voice: first and last sound
	moved    [2][2]float64 // by how many frames they have moved since learned
	speed    [2][2]float64 // and go on moving, frames a frame
	seen     float64       // mark about which that was so
	averages [2][2]halves  // by voice: of the beats about the first and last sound
	turn     [2]int
	rate     float64 // frames a second
	span     float64 // how long, in seconds, the next average is at least
	reach    int     // how far, in frames, the sounds may have moved in it
	far      float64 // and how far, in seconds, they are looked for before another sound is met
	since    float64 // mark of the first beat averaged
	latest   float64
	noise    [3]float64 // running variance of what report is given, frames²
	known    bool
}

// halves are two averages of beats, taken by turns, so that they tell the error
// of their mean.
type halves [2]*onset.Average

// An average takes spanSeconds at least, and spanBeats of either side in each
// half of it. Where the sounds move so fast that they smear in it, shorter ones
// follow, down to leastBeats; where they are lost, they are looked for farther
// and farther away. All lengths in seconds.
const (
	spanSeconds = 10
	spanBeats   = 6
	leastBeats  = 3
	smear       = 40e-6
	nearReach   = 1e-3
	farReach    = 8e-3
)

func newShapes(e *ear, shaping *onset.Shaping) *shapes {
	s := &shapes{since: -1, rate: e.rate, span: spanSeconds, far: farReach}
	s.voices = []int{0, 1}
	if e.lone >= 0 {
		s.voices = []int{e.lone}
	}
	for _, v := range s.voices {
		s.edges[v] = e.voice[v].edges(shaping)
		for i := range len(e.voice[v].contacts) - 1 {
			s.far = min(s.far, (e.voice[v].contacts[i+1].At-e.voice[v].contacts[i].At)/e.rate/2)
		}
	}
	s.clear(nearReach)
	return s
}

// clear begins new averages, in which sounds are found that have moved by no
// more than so many seconds.
func (s *shapes) clear(reach float64) {
	frames := int(reach * s.rate)
	for _, v := range s.voices {
		for c, e := range s.edges[v] {
			for h, a := range s.averages[v][c] {
				if frames == s.reach {
					a.Reset()
					continue
				}
				before, after := e.matcher.SpanNear(frames)
				s.averages[v][c][h] = onset.NewAverage(before+1, after+1)
			}
		}
	}
	s.reach = frames
}

// add lays the beat of a voice marked at a frame over the others.
func (s *shapes) add(t *tracker, v int, at float64) {
	if !slices.Contains(s.voices, v) {
		return
	}
	if s.since < 0 {
		s.since = at
	}
	if at-s.since > s.span*s.rate && s.fewest() >= max(leastBeats, int(spanBeats*s.span/spanSeconds)) {
		s.flush(t)
		s.since = at
	}
	s.latest = at
	s.turn[v]++
	half := s.turn[v] & 1
	if t.snrs[v].median() >= 25 && s.span == spanSeconds {
		// Where beats are clear and move slowly, every other one tells as much.
		if half == 1 {
			return
		}
		half = s.turn[v] >> 1 & 1
	}
	for c := range s.edges[v] {
		a := s.averages[v][c][half]
		at := at + s.place(v, c, at)
		x, first := t.tape.span(int64(at)-int64(a.Pre)-2, int64(at)+int64(len(a.Sum)-a.Pre)+4)
		a.Add(x, at-float64(first))
	}
}

// place is where the first or last sound of a voice should be, relative to a mark
// at a frame, going on as it last moved.
func (s *shapes) place(v, c int, at float64) float64 {
	return s.edges[v][c].at + s.moved[v][c] + s.speed[v][c]*(at-s.seen)
}

// fewest returns the least number of beats in an average.
func (s *shapes) fewest() int {
	n := math.MaxInt
	for _, v := range s.voices {
		for _, a := range s.averages[v] {
			n = min(n, a[0].N, a[1].N)
		}
	}
	return n
}

// flush measures the averages and empties them.
func (s *shapes) flush(t *tracker) {
	seen := s.measure()
	told := s.expect(&seen)
	s.pace(seen, told)
	if !told {
		return
	}
	var lift, mid, uneven [2]float64 // by half
	for _, v := range s.voices {
		for h := range 2 {
			first, last := seen[v][0].at[h], seen[v][1].at[h]
			part := 1 / float64(len(s.voices))
			m := (first + last) / 2
			lift[h] += part * (last - first)
			mid[h] += part * m
			if v == t.first {
				m = -m
			}
			uneven[h] += m
		}
	}
	if len(s.voices) < 2 {
		uneven = [2]float64{} // the other side moves alike, as far as can be told
	}
	s.report(t, lift, mid, uneven)
}

// sighting is where a sound was seen, relative to the mark, in either half of
// the beats.
type sighting struct {
	at [2]float64
	ok bool
}

// measure looks for the first and last sound of each voice.
func (s *shapes) measure() (seen [2][2]sighting) {
	for _, v := range s.voices {
		for c, e := range s.edges[v] {
			seen[v][c].ok = true
			for h, a := range s.averages[v][c] {
				x := single(a.Mean())
				m, found := e.matcher.Near(x, 0, float64(a.Pre), s.reach/6)
				if !found {
					m, found = e.matcher.Near(x, 0, float64(a.Pre), s.reach)
				}
				seen[v][c].ok = seen[v][c].ok && found && a.N >= leastBeats && m.SNR*math.Sqrt(float64(a.N)) >= 6
				seen[v][c].at[h] = m.Frame - float64(a.Pre) + s.place(v, c, s.middle())
			}
		}
	}
	return seen
}

// middle is the frame about which beats are averaged.
func (s *shapes) middle() float64 { return (s.since + s.latest) / 2 }

// expect puts sounds that were not seen where the others say that the lift has
// taken them. It returns whether they do: both sounds of a side were seen.
func (s *shapes) expect(seen *[2][2]sighting) (told bool) {
	var grown [2]float64 // by half: how much longer the lift is than when learned
	var weight float64
	for _, v := range s.voices {
		told = told || seen[v][0].ok && seen[v][1].ok
		for c, e := range s.edges[v] {
			if seen[v][c].ok {
				weight += e.share * e.share
				for h, at := range seen[v][c].at {
					grown[h] += e.share * (at - e.at)
				}
			}
		}
	}
	for _, v := range s.voices {
		for c, e := range s.edges[v] {
			for h := range grown {
				switch {
				case seen[v][c].ok:
				case weight > 0.1:
					seen[v][c].at[h] = e.at + e.share*grown[h]/weight
				default:
					seen[v][c].at[h] = s.place(v, c, s.middle())
				}
			}
		}
	}
	return told
}

// pace takes in where the sounds are, and chooses how long the next averages are
// and how far the sounds may have moved in them.
func (s *shapes) pace(seen [2][2]sighting, told bool) {
	surprise := 1e-9
	for _, v := range s.voices {
		for c, e := range s.edges[v] {
			now := (seen[v][c].at[0] + seen[v][c].at[1]) / 2
			off := now - s.place(v, c, s.middle())
			switch {
			case !told:
				s.speed[v][c] = 0
			case s.known:
				s.speed[v][c] += off / (s.middle() - s.seen) / 2
			}
			if seen[v][c].ok {
				surprise = max(surprise, math.Abs(off)/s.rate)
			}
			s.moved[v][c] = now - e.at
		}
	}
	s.seen = s.middle()
	if told {
		s.span = max(1, min(spanSeconds, 1.5*s.span, s.span*smear/surprise))
		s.clear(nearReach)
		return
	}
	// Too long an average smears, too short a one is lost in the noise.
	if s.span /= 2; s.span < 1 {
		s.span = spanSeconds
	}
	s.clear(max(nearReach, min(2*float64(s.reach)/s.rate, s.far)))
}

func single(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
}

// spread is how far, in frames, any sound may have moved outward since it was
// learned.
func (s *shapes) spread() float64 {
	most := 0.0
	for _, v := range s.voices {
		most = max(most, -s.moved[v][0], s.moved[v][1])
	}
	// What was lost is anywhere in reach.
	return most + max(0, float64(s.reach)-nearReach*s.rate)
}

func (s *shapes) report(t *tracker, halves ...[2]float64) {
	per := t.clock(s.latest) - t.clock(s.latest-1) // true seconds a frame
	var value, se [3]float64
	for i, h := range halves {
		// Half the difference of two halves is an error of their mean.
		v := (h[1] - h[0]) * (h[1] - h[0]) / 4
		if !s.known {
			s.noise[i] = v
		}
		s.noise[i] += (v - s.noise[i]) / 8
		value[i], se[i] = (h[0]+h[1])/2*per, math.Sqrt(s.noise[i])*per
	}
	s.known = true
	t.out.Lifts = append(t.out.Lifts, Lift{
		Time:     t.clock(s.middle()),
		Duration: value[0], SE: se[0],
		Mid: value[1], MidSE: se[1],
		Uneven: value[2], UnevenSE: se[2],
	})
}
