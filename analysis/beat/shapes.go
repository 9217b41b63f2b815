package beat

import (
	"math"
	"slices"

	"rundown/dsp/onset"
)

// shapes follows how the first and last sound of a beat move against its mark,
// in averages over some seconds of beats.
type shapes struct {
	shaping  *onset.Shaping
	voices   []int         // that are followed
	edges    [2][2]edge    // by voice: first and last sound
	moved    [2][2]float64 // by how many frames they have moved since learned
	averages [2][2]halves  // by voice: of the beats about the first and last sound
	turn     [2]int
	reach    int     // how far, in frames, they may move between averages
	since    float64 // mark of the first beat averaged
	latest   float64
	noise    [3]float64 // running variance of what report is given, frames²
	known    bool
}

// halves are two averages of beats, taken by turns, so that they tell the error
// of their mean.
type halves [2]*onset.Average

// How long, in seconds, an average is at least, and of how many beats of either
// side each half of it.
const (
	leastSeconds = 10
	leastBeats   = 12
)

func newShapes(e *ear, shaping *onset.Shaping) *shapes {
	ms := e.rate / 1000
	s := &shapes{since: -1, reach: int(ms)}
	s.voices = []int{0, 1}
	if e.lone >= 0 {
		s.voices = []int{e.lone}
	}
	for _, v := range s.voices {
		voice := e.voice[v]
		s.edges[v] = voice.edges(shaping, s.reach)
		for c, edge := range s.edges[v] {
			before, after := edge.matcher.SpanNear(s.reach)
			for h := range 2 {
				s.averages[v][c][h] = onset.NewAverage(before+1, after+1)
			}
		}
	}
	return s
}

// add lays the beat of a voice marked at a frame over the others.
func (s *shapes) add(t *tracker, v int, at float64) {
	if !slices.Contains(s.voices, v) {
		return
	}
	if s.since < 0 {
		s.since = at
	}
	if at-s.since > leastSeconds*t.ear.rate && s.fewest() >= leastBeats {
		s.flush(t)
		s.since = at
	}
	s.latest = at
	s.turn[v]++
	half := s.turn[v] & 1
	if t.snrs[v].median() >= 25 {
		// Where beats are clear, every other one tells as much.
		if half == 1 {
			return
		}
		half = s.turn[v] >> 1 & 1
	}
	for c := range s.edges[v] {
		a := s.averages[v][c][half]
		at := at + s.place(v, c)
		x, first := t.tape.span(int64(at)-int64(a.Pre)-2, int64(at)+int64(len(a.Sum)-a.Pre)+4)
		a.Add(x, at-float64(first))
	}
}

// place is where the first or last sound of a voice was last seen, relative to
// the mark.
func (s *shapes) place(v, c int) float64 { return s.edges[v][c].at + s.moved[v][c] }

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
	var lift, mid, uneven [2]float64 // by half
	ok := s.fewest() >= 3
	for _, v := range s.voices {
		if !ok {
			break
		}
		at, found := s.measure(v)
		ok = found
		for h := range 2 {
			part := 1 / float64(len(s.voices))
			m := (at[h][1] + at[h][0]) / 2
			lift[h] += part * (at[h][1] - at[h][0])
			mid[h] += part * m
			if v == t.first {
				m = -m
			}
			uneven[h] += m
		}
	}
	if ok {
		if len(s.voices) < 2 {
			uneven = [2]float64{} // the other side moves alike, as far as can be told
		}
		s.report(t, lift, mid, uneven)
	}
	for _, v := range s.voices {
		for _, a := range s.averages[v] {
			a[0].Reset()
			a[1].Reset()
		}
	}
}

// measure returns where the first and last sound of a voice set in relative to
// the mark, in either half of the beats.
func (s *shapes) measure(v int) (at [2][2]float64, ok bool) {
	for c, e := range s.edges[v] {
		for h, a := range s.averages[v][c] {
			x := single(a.Mean())
			m, found := e.matcher.Near(x, 0, float64(a.Pre), s.reach/6)
			if !found {
				m, found = e.matcher.Near(x, 0, float64(a.Pre), s.reach)
			}
			if !found || m.SNR*math.Sqrt(float64(a.N)) < 6 {
				return at, false
			}
			at[h][c] = m.Frame - float64(a.Pre) + s.place(v, c)
		}
	}
	for c, e := range s.edges[v] {
		s.moved[v][c] = (at[0][c]+at[1][c])/2 - e.at
	}
	return at, true
}

func single(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
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
		Time:     t.clock((s.since + s.latest) / 2),
		Duration: value[0], SE: se[0],
		Mid: value[1], MidSE: se[1],
		Uneven: value[2], UnevenSE: se[2],
	})
}
