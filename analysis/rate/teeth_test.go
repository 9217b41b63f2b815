package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"rundown/analysis/beat"
	"rundown/analysis/sequence"
)

// TestTeeth: where a tooth hesitates at every turn, each stretch between steps is the
// same part of the turn, and uneven teeth tilt all windows alike. With what is known of
// the teeth, the rates are right, and their errors hold what is not known: of windows
// and of the mean. Without, they are not.
func TestTeeth(t *testing.T) {
	const (
		turn, beats, interval = 30, 4500, 0.2
		scatter, uneven       = 20e-6, 50e-6
		known                 = 10e-6 // standard error of what is known of each tooth
		runs                  = 100
	)
	cov := mat.NewSymDense(turn, nil)
	for i := range turn {
		cov.SetSym(i, i, known*known)
	}
	var held, windows, heldMean, heldWithout int
	for seed := range uint64(runs) {
		rng := rand.New(rand.NewPCG(seed, 7))
		var teeth, told [turn]float64
		for i := range teeth {
			teeth[i] = uneven * rng.NormFloat64()
			told[i] = teeth[i] + known*rng.NormFloat64()
		}
		var b beat.Batch
		shift := 0.
		for i := range beats {
			if i%turn == 4 && i > turn {
				b.Events = append(b.Events, beat.Event{Kind: beat.Late, Beat: int64(i), Shift: 1e-3})
				shift += 1e-3
			}
			b.Beats = append(b.Beats, beat.Beat{Index: int64(i), Side: beat.Side(i % 2), Heard: true, Time: 0.1 + interval*float64(i) + shift + teeth[i%turn] + scatter*rng.NormFloat64()})
		}
		run := func(turns []sequence.Turn) ([]Window, Run) {
			a := NewAccumulator(60, nil)
			a.Teeth(turns)
			ws := a.Append(nil, &b)
			ws = a.Flush(ws, beats*interval+shift)
			return ws, a.Finish(ws, Settings{BeatsPerHour: 3600 / interval})
		}
		ws, r := run([]sequence.Turn{{Shape: told[:], Cov: cov}})
		for _, w := range ws {
			if valid(w.Rate) {
				windows++
				held += holds(w.Rate)
			}
		}
		heldMean += holds(r.Rate)
		_, r = run(nil)
		heldWithout += holds(r.Rate)
	}
	t.Logf("%d of %d windows, %d of %d means; without teeth %d means", held, windows, heldMean, runs, heldWithout)
	if share := float64(held) / float64(windows); share < 0.93 || share > 0.98 {
		t.Errorf("%.3f of the intervals of windows hold, want 0.93 to 0.98", share)
	}
	if heldMean < 90 {
		t.Errorf("%d of %d intervals of means hold, want 90", heldMean, runs)
	}
	if heldWithout > 50 {
		t.Errorf("%d of %d hold without knowing the teeth: they do not matter here", heldWithout, runs)
	}
}

// holds is 1 where the 95 % interval of a rate of 0 holds it.
func holds(v Value) int {
	if math.Abs(v.X) < 1.96*v.SE {
		return 1
	}
	return 0
}

// TestTeethOfALaterPart: turns that are known only from some beat on leave the windows
// before as they are.
func TestTeethOfALaterPart(t *testing.T) {
	m := movement{seed: 1, interval: 0.2, beats: 3000, scatter: 20e-6}
	tr := m.run()
	shape := make([]float64, 30)
	for i := range shape {
		shape[i] = 1e-3 * float64(i%7)
	}
	run := func(turns []sequence.Turn) []Window {
		a := NewAccumulator(60, nil)
		a.Teeth(turns)
		ws := a.Append(nil, &tr.batch)
		return a.Flush(ws, tr.end)
	}
	with, without := run([]sequence.Turn{{From: 1501, Origin: 1501, Shape: shape, Cov: mat.NewSymDense(30, nil)}}), run(nil)
	for i := range with {
		if same := with[i].Period == without[i].Period; same != (with[i].End <= 300) {
			t.Errorf("window to %g s: period %v with, %v without", with[i].End, with[i].Period, without[i].Period)
		}
	}
}
