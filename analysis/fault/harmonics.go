package fault

import "math"

// harmonics returns the harmonics of freq that are there. One next to another is taken on little evidence; one alone must stand out,
// with at most one missing before it. own tells whether a frequency is that of
// another part of the train, which keeps its line unless it is no higher than
// that of a harmonic would be.
func (s *spectrum) harmonics(freq float64, own func(freq float64) bool) (list []int) {
	const beside, higher = 4, 4
	missing := 1
	for j := 1; j <= maxHarmonics && missing < 3; j++ {
		k := s.bin(float64(j) * freq)
		if k < 0 {
			break
		}
		least := float64(aloneLine)
		if missing == 0 {
			least = beside
		}
		missing++
		if s.evidence[k] < least {
			continue
		}
		if j > 1 && own(float64(j)*freq) {
			below, above := s.bin(float64(j-1)*freq), s.bin(float64(j+1)*freq)
			if above < 0 || s.power[k] > higher*max(s.power[below], s.power[above]) {
				continue
			}
		}
		list = append(list, j)
		missing = 0
	}
	return list
}

// fundamental returns the frequency of which the line at freq is a harmonic: the
// lowest of whose harmonics up to the line three in four are there. own is as
// for harmonics.
func (s *spectrum) fundamental(freq, low float64, own func(freq float64) bool) float64 {
	const most, weakest = 0.75, 0.1 // share of the harmonics; power of another one over that of the line
	best := freq
	for k := 2; k <= deepestComb && freq/float64(k) >= low; k++ {
		f := freq / float64(k)
		there, next := []int{k}, 0.0
		for j := 1; j < k; j++ {
			b := s.bin(float64(j) * f)
			if s.evidence[b] >= aloneLine && !own(float64(j)*f) {
				there = append(there, j)
				next = max(next, s.power[b])
			}
		}
		if float64(len(there)) >= most*float64(k) && common(there) == 1 && next > weakest*s.power[s.bin(freq)] {
			best = f
		}
	}
	return best
}

// polish returns freq as its harmonics have it, which tell it the more precisely
// the higher they are.
func (s *spectrum) polish(freq float64, list []int) float64 {
	const surest = 1000 // beyond that other things than noise limit precision
	sum, weight := 0.0, 0.0
	for _, j := range list {
		n := float64(j)
		k := s.bin(n * freq)
		if k < 1 || k+1 >= len(s.power) || s.evidence[k] < aloneLine {
			continue
		}
		for _, near := range [2]int{k - 1, k + 1} {
			if s.power[near] > s.power[k] {
				k = near
			}
		}
		w := n * n * min(surest, s.power[k]/s.floor.at(s.turns(k)))
		sum += w * s.vertex(k) / n
		weight += w
		freq = sum / weight
	}
	return freq
}

// vertex is the frequency of the top of the line at bin k, by the parabola through
// the logarithms of its power and that of its neighbours.
func (s *spectrum) vertex(k int) float64 {
	if k == 0 || k+1 >= len(s.power) {
		return float64(k) / float64(s.size)
	}
	a, b, c := math.Log(s.power[k-1]), math.Log(s.power[k]), math.Log(s.power[k+1])
	shift := (a - c) / (2 * (a - 2*b + c))
	if !(math.Abs(shift) < 1) {
		shift = 0
	}
	return (float64(k) + shift) / float64(s.size)
}

// common is the greatest common divisor.
func common(list []int) int {
	d := 0
	for _, n := range list {
		for n != 0 {
			d, n = n, d%n
		}
	}
	return d
}
