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
	voices   []int                // that are followed
	edges    [2][2]edge           // by voice: first and last sound
	moved    [2][2]float64        // by how many frames they have moved since learned
	averages [2][2]*onset.Average // by voice, and by turns, so that two halves tell the error
	turn     [2]int
	reach    float64 // how far, in frames, they may move between averages
	since    float64 // mark of the first beat averaged
	latest   float64
	noise    [3]float64 // running variance of what report is given, frames²
	known    bool
}

// How long, in seconds, an average is at least, and of how many beats of either
// side each half of it.
const (
	leastSeconds = 10
	leastBeats   = 12
)

func newShapes(e *ear, shaping *onset.Shaping) *shapes {
	ms := e.rate / 1000
	s := &shapes{since: -1, reach: ms}
	s.voices = []int{0, 1}
	if e.lone >= 0 {
		s.voices = []int{e.lone}
	}
	for _, v := range s.voices {
		voice := e.voice[v]
		s.edges[v] = voice.edges(shaping, int(ms))
		// Room for a lift time two and a half times as long.
		room := min(1.2*e.lift+10*ms, 0.2*e.period)
		for h := range 2 {
			s.averages[v][h] = onset.NewAverage(int(room), int(room)+int(6*ms))
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
	a := s.averages[v]
	if at-s.since > leastSeconds*t.ear.rate && s.fewest() >= leastBeats {
		s.flush(t)
		s.since = at
	}
	x, first := t.tape.span(int64(at)-int64(a[0].Pre)-2, int64(at)+int64(len(a[0].Sum))+4)
	// Where beats are clear, every other one tells as much.
	if turn := s.turn[v]; t.snrs[v].median() < 25 {
		a[turn&1].Add(x, at-float64(first))
	} else if turn&1 == 0 {
		a[turn>>1&1].Add(x, at-float64(first))
	}
	s.turn[v]++
	s.latest = at
}

// fewest returns the least number of beats in an average.
func (s *shapes) fewest() int {
	n := math.MaxInt
	for _, v := range s.voices {
		n = min(n, s.averages[v][0].N, s.averages[v][1].N)
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
		for h := range 2 {
			s.averages[v][h].Reset()
		}
	}
}

// measure returns where the first and last sound of a voice set in relative to
// the mark, in either half of the beats.
func (s *shapes) measure(v int) (at [2][2]float64, ok bool) {
	for h := range 2 {
		a := s.averages[v][h]
		mean := a.Mean()
		x := make([]float32, len(mean))
		for i, m := range mean {
			x[i] = float32(m)
		}
		for c, e := range s.edges[v] {
			m, found := e.matcher.Find(x, 0, float64(a.Pre)+e.at+s.moved[v][c], s.reach)
			if !found || m.SNR*math.Sqrt(float64(a.N)) < 6 {
				return at, false
			}
			at[h][c] = m.Frame - float64(a.Pre)
		}
	}
	for c, e := range s.edges[v] {
		s.moved[v][c] = (at[0][c]+at[1][c])/2 - e.at
	}
	return at, true
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
