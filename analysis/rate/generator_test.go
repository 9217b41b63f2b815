package rate

import (
	"math"
	"math/rand/v2"

	"rundown/analysis/beat"
)

// movement makes beats with known truth. The zero value of a field leaves the
// matter out.
type movement struct {
	seed      uint64
	interval  float64 // of beats at rate 0, s
	beats     int
	rate      func(t float64) float64 // running rate, s/day, at true time t
	beatError float64                 // s
	scatter   float64                 // of beat times, s
	ratio     float64                 // scatter of tocks over that of ticks; 0 is 1
	outliers  float64                 // share of beats off by up to wild
	wild      float64                 // s
	unheard   float64                 // share of beats not heard
	level     float64                 // dBFS
	jumps     []beat.Event            // late, early, gap and stop, by beat
}

// truth is what a movement's beats are made of.
type truth struct {
	clean []float64 // instant of each beat without scatter and jumps, sides alike, s
	noise []float64 // Gaussian scatter of each beat, heard or not, s
	batch beat.Batch
	end   float64
}

// run makes the beats.
func (m movement) run() truth {
	scatter, bad := rand.New(rand.NewPCG(m.seed, 1)), rand.New(rand.NewPCG(m.seed, 2))
	ratio := m.ratio
	if ratio == 0 {
		ratio = 1
	}
	var out truth
	t, shift, next := 0.25, 0., 0
	for i := range m.beats {
		for next < len(m.jumps) {
			e := m.jumps[next]
			at := e.Beat
			if e.Kind == beat.Stop {
				at++
			}
			if at > int64(i) {
				break
			}
			e.Start, e.End = t+shift-m.interval, t+shift+e.Shift
			shift += e.Shift
			out.batch.Events = append(out.batch.Events, e)
			next++
		}
		b := beat.Beat{Index: int64(i), Side: beat.Side(i % 2), Heard: bad.Float64() >= m.unheard, Level: m.level + bad.NormFloat64()}
		noise, wild := m.scatter*scatter.NormFloat64(), 0.
		if b.Side == beat.Tock {
			noise *= ratio
		}
		if bad.Float64() < m.outliers {
			wild = m.wild * (2*bad.Float64() - 1)
		}
		b.Time = t + shift + (float64(b.Side)-0.5)*m.beatError
		if b.Heard {
			b.Time += noise + wild
		}
		out.clean = append(out.clean, t)
		out.noise = append(out.noise, noise)
		out.batch.Beats = append(out.batch.Beats, b)
		step := m.interval
		if m.rate != nil {
			step /= 1 + m.rate(t+m.interval/2)/86400
		}
		t += step
	}
	out.end = t + shift
	return out
}

// windows runs an accumulator over all beats at once.
func (tr *truth) windows(width float64) ([]Window, *Accumulator) {
	a := NewAccumulator(width, nil)
	ws := a.Append(nil, &tr.batch)
	return a.Flush(ws, tr.end), a
}

func rms(x []float64) float64 {
	s := 0.
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(len(x)))
}
