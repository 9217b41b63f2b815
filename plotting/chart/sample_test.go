package chart

import (
	"math"
	"math/rand/v2"

	"rundown/analysis/beat"
	"rundown/analysis/compare"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
)

// sampleRun is a run-down of so many windows of a length in seconds: a steep
// beginning, a plateau, a fall at the end, two wild windows, a stop, and events
// of every kind.
func sampleRun(windows int, length float64) Run {
	rng := rand.New(rand.NewPCG(uint64(windows), 1))
	r := Run{Heading: Heading{"the hall clock, second winding.wav", 18000}, Kind: rate.Degrees}
	total := float64(windows) * length
	for i := range windows {
		u := float64(i) / float64(windows)
		smooth := 4 + 9*math.Exp(-12*u) - 1.5*math.Sin(7*u) - 70*math.Pow(u, 14)
		x := smooth + 0.4*rng.NormFloat64()
		r.Windows = append(r.Windows, rate.Window{
			Start: float64(i) * length, End: float64(i+1) * length, Beats: 300, Heard: 300,
			Rate:      rate.Value{X: x, SE: 0.4},
			Smoothed:  rate.Value{X: smooth, SE: 0.1},
			Period:    rate.Value{X: 0.4 / (1 + x/day), SE: 0.4 * 0.4 / day},
			BeatError: rate.Value{X: 4e-4 + 2e-5*rng.NormFloat64(), SE: 2e-5},
			Amplitude: rate.Value{X: 285 - 40*u - 80*math.Pow(u, 10) + rng.NormFloat64(), SE: 1},
		})
	}
	r.Windows[windows/4].Rate.X += 400
	r.Windows[windows/2].Rate.X -= 300
	for i, kind := range beat.Kinds {
		for k := range 20 {
			at := total * (float64(k) + float64(i)/7) / 20
			r.Events = append(r.Events, beat.Event{Kind: kind, Start: at, End: at + 0.004*total/float64(i+1)})
		}
	}
	r.Band = &rate.Band{Start: 0.2 * total, End: 0.8 * total, Mean: rate.Value{X: 3.1, SE: 0.02}, Spread: 3}
	r.Turns = &Turns{"barrel", 0, total / 6.4}
	return r
}

// sampleTurn is one turn with one late position.
func sampleTurn(positions, teeth int) Turn {
	rng := rand.New(rand.NewPCG(2, 2))
	t := Turn{Arbor: "escape wheel", Beats: float64(positions), Teeth: teeth, Turns: 4790, Last: 143911}
	for i := range positions {
		v := rate.Value{X: 1e-4*math.Sin(2*math.Pi*float64(i)/float64(positions)) + 2e-5*rng.NormFloat64(), SE: 2e-5}
		if i == 10 {
			v.X += 4e-4
		}
		t.Mean = append(t.Mean, v)
	}
	return t
}

// turnsOf is a map of rows of so many columns, and the times of its rows, five
// beats a second: what a function makes of each beat.
func turnsOf(columns, rows int, deviation func(beat int) float64) (fault.Map, []float64) {
	m := fault.Map{Columns: columns, Rows: rows, TurnsPerRow: 1}
	var starts []float64
	for b := range columns * rows {
		m.Values = append(m.Values, float32(deviation(b)))
	}
	for row := range rows + 1 {
		starts = append(starts, float64(row*columns)/5)
	}
	return m, starts
}

// sampleMap is a map with one late column.
func sampleMap(columns, rows int) (fault.Map, []float64) {
	rng := rand.New(rand.NewPCG(3, 3))
	return turnsOf(columns, rows, func(beat int) float64 {
		late := 0.0
		if beat%columns == 10 && rng.Float64() < 0.4 {
			late = 4e-4
		}
		return late + 4e-5*rng.NormFloat64()
	})
}

// drawMap is Map of turns by tooth.
func drawMap(m fault.Map, starts []float64, teeth int) *Figure {
	return Map(Heading{}, m, starts, teeth, awkwardRecurrences())
}

func sampleStabilities() []rate.Stability {
	var ss []rate.Stability
	for tau := minute; tau < 2*hour; tau *= 2 {
		floor := 2e-4 / math.Pow(tau, 1.5)
		s := math.Hypot(floor, 1e-6)
		ss = append(ss, stability(tau, s, 0.8*s, 1.3*s, floor))
	}
	return ss
}

func stability(tau, allan, low, high, floor float64) rate.Stability {
	return rate.Stability{Tau: tau, Allan: allan, AllanLow: low, AllanHigh: high, AllanFloor: floor}
}

func sampleFloors() []Floor {
	return []Floor{
		{"drift of the spring", []float64{1, 1e5}, []float64{1e-10, 1e-5}},
		{"sample clock", []float64{minute, hour}, []float64{1e-7, 1e-7}},
	}
}

func sampleDifference(windows int) []compare.Difference {
	ds := make([]compare.Difference, windows)
	for i := range ds {
		ds[i] = compare.Difference{Time: minute * (float64(i) + 0.5), Rate: math.Sin(float64(i) / 50), SE: 0.3}
	}
	return ds
}
