package fusee

import (
	"math"

	"rundown/analysis/rate"
)

// perTurn is how many places a turn of the barrel is divided into for stop-work:
// finer than anybody sets it.
const perTurn = 100

// step is by how much the numbers of turns kept differ.
const step = 0.5

// Stretch is a part of the wind that stop-work may keep.
type Stretch struct {
	From, To float64 // turns unwound from full wind
	Spread   float64 // greatest minus least: of the torque in % of its mean, of the rate in s/day
}

// Kept is what is best for a number of turns kept.
type Kept struct {
	Turns    float64
	ByTorque Stretch    // of the least spread of torque
	ByRate   *Stretch   // of the least spread of the run's rate; nil where no run covers so many turns
	Mean     rate.Value // of the run's rate over ByRate, s/day
	Day      rate.Value // of the rate over the first 24 hours of it, or all of it where it is shorter: s gained a day when wound daily
	Hours    float64    // that the movement goes; NaN where a turn's length is not known
}

// StopWork lists, for each number of turns that can be kept, by halves, the stretch
// in which the torque changes least, and where there is a drive, that in which its
// rate does. Of equal ones it is the earliest. drive may be nil.
func StopWork(torque *Curve, drive *Drive) []Kept {
	places := int(math.Floor((torque.End()-torque.Start())*perTurn + 1e-9))
	at := func(i int) float64 { return torque.Start() + float64(i)/perTurn }
	torques, rates := make([]float64, places+1), make([]float64, places+1)
	for i := range torques {
		torques[i], rates[i] = torque.At(at(i)), math.NaN()
		if drive != nil {
			rates[i] = drive.smoothed(at(i))
		}
	}
	var list []Kept
	for n := step * perTurn; int(n) <= places; n += step * perTurn {
		k := Kept{Turns: n / perTurn, Mean: none, Day: none, Hours: math.NaN()}
		stretch := func(first int, spread float64) Stretch {
			return Stretch{From: at(first), To: at(first + int(n)), Spread: spread}
		}
		first, spread, ok := steadiest(torques, int(n), true)
		if !ok {
			continue // there is no torque left there
		}
		k.ByTorque = stretch(first, 100*spread)
		if drive != nil {
			k.Hours = k.Turns * drive.HoursPerTurn
			if first, spread, ok := steadiest(rates, int(n), false); ok {
				s := stretch(first, spread)
				k.ByRate = &s
				k.Mean = drive.mean(s.From, s.To)
				k.Day = drive.mean(s.From, min(s.To, s.From+24/drive.HoursPerTurn))
			}
		}
		list = append(list, k)
	}
	return list
}

// steadiest returns where the n+1 figures in a row begin whose greatest exceeds their
// least by the smallest amount, or by the smallest share of their mean. It passes
// over NaN, and reports false where there are no such figures. It is O(len(x)).
func steadiest(x []float64, n int, relative bool) (first int, spread float64, ok bool) {
	spread = math.Inf(1)
	var high, low queue
	sum, begin := 0.0, 0
	for i, v := range x {
		if math.IsNaN(v) {
			high, low, sum, begin = nil, nil, 0, i+1
			continue
		}
		high, low, sum = high.push(x, i, 1), low.push(x, i, -1), sum+v
		if i-begin < n {
			continue
		}
		s := x[high[0]] - x[low[0]]
		if relative {
			s /= sum / float64(n+1)
		}
		if s < spread && s >= 0 {
			first, spread, ok = begin, s, true
		}
		high, low, sum = high.drop(begin), low.drop(begin), sum-x[begin]
		begin++
	}
	return first, spread, ok
}

// queue holds places of figures, each greater (or less) than all after it.
type queue []int

func (q queue) push(x []float64, i int, sign float64) queue {
	for len(q) > 0 && sign*x[q[len(q)-1]] <= sign*x[i] {
		q = q[:len(q)-1]
	}
	return append(q, i)
}

func (q queue) drop(i int) queue {
	if q[0] == i {
		return q[1:]
	}
	return q
}

// Recommend returns the place in the list of the most turns within a tolerance: of
// the rate, s/day, where byRate, else of the torque, %. It reports false where there
// are none.
func Recommend(list []Kept, byRate bool, tolerance float64) (int, bool) {
	for i := len(list) - 1; i >= 0; i-- {
		s := &list[i].ByTorque
		if byRate {
			s = list[i].ByRate
		}
		if s != nil && s.Spread <= tolerance {
			return i, true
		}
	}
	return 0, false
}
