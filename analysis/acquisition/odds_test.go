package acquisition

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/dsp/parallel"
	"rundown/dsp/synth"
)

var (
	oddsDraws = flag.Int("odds", 0, "movements drawn at random from which the odds of the count are judged; 0 skips that")
	oddsFrom  = flag.Int("oddsfrom", 0, "number of the first of them")
)

// hardDraw is a movement drawn at random at 4 to 12 dB, every other one with
// sides equally loud and nearly in beat, and a tooth that hesitates in most
// turns.
func hardDraw(i int) synth.Recording {
	r := rand.New(rand.NewPCG(uint64(i), 94))
	rec := synth.Random(uint64(70_000+i), 30, 4+8*r.Float64())
	rec.Duration = min(60, max(30, 60*rec.Movement.Interval()))
	rec.Movement.Mainspring.RunTime = max(rec.Movement.Mainspring.RunTime, 3600)
	rec.Recorder.SampleRate = []int{16000, 22050}[r.IntN(2)]
	if i%2 == 0 {
		rec.Sound.TockLevel = r.NormFloat64()
		rec.Movement.BeatError = 0.002 * rec.Movement.Interval() * r.NormFloat64()
		rec.Movement.Recurrences = synth.BadTooth(15, 3, -1, 0.3+0.7*r.Float64(), 0.0004+0.006*r.Float64())
	}
	return rec
}

// answer is what was found in a draw.
type answer struct {
	odds  float64 // powers of ten
	right bool
}

// Of counts that are given at odds of 100 to 1 and more, at most one in 50 is
// wrong. The log has each draw's, and by what the powers of ten would have to be
// multiplied to be those that the draws show. Of draws 33000 to 33399, 0 of 133 were, and
// the factor was 1.24; of 34000 to 34399, 1 of 154, and 0.64; of 7000 to 7999, 0 of 493, and
// 1.19.
func TestOddsHold(t *testing.T) {
	if *oddsDraws == 0 {
		t.Skip("skipped: takes minutes; -odds gives the number of draws")
	}
	draws := make([]*answer, *oddsDraws)
	parallel.Each(*oddsDraws, func(i int) {
		rec := hardDraw(*oddsFrom + i)
		x, rate := stretchOf(t, rec)
		h := Find(context.Background(), x, rate, Options{})
		if h == nil {
			return
		}
		times := h.Period * rec.Movement.BeatsPerHour / 7200 / rate
		draws[i] = &answer{h.Odds, math.Abs(times-1) < 0.01}
		t.Logf("draw %d, %g an hour, %.1f dB: %.3f times the period, odds of 10^%.2f against %.3f times", *oddsFrom+i, rec.Movement.BeatsPerHour, rec.Room.SNR, times, h.Odds, h.Rival/h.Period)
	})
	draws = slices.DeleteFunc(draws, func(a *answer) bool { return a == nil })
	wrong := func(from float64) (given, wrong int) {
		for _, a := range draws {
			if a.odds >= from {
				given++
				if !a.right {
					wrong++
				}
			}
		}
		return given, wrong
	}
	found, mistaken := wrong(0)
	sure, misled := wrong(2)
	t.Logf("%d draws: %d found, %d of them wrong; %d at 100 to 1 and more, %d of them wrong; the powers of ten should be %.2f times what they are", *oddsDraws, found, mistaken, sure, misled, calibration(draws))
	if misled*50 > sure {
		t.Errorf("%d of %d counts given at 100 to 1 and more are wrong", misled, sure)
	}
}

// calibration returns the factor of the powers of ten that makes the answers most
// probable: logistic regression without a constant.
func calibration(answers []*answer) float64 {
	best, most := 0.0, math.Inf(-1)
	for factor := 0.0; factor <= 3; factor += 0.01 {
		var sum float64
		for _, a := range answers {
			x := factor * a.odds * math.Ln10
			if !a.right {
				x = -x
			}
			sum -= math.Log1p(math.Exp(-x))
		}
		if sum > most {
			best, most = factor, sum
		}
	}
	return best
}

// The calibration of odds that hold is one, and that of such as promise twice the
// powers of ten a half.
func TestCalibration(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, times := range []float64{1, 2} {
		var draws []*answer
		for range 20_000 {
			odds := 3 * r.Float64()
			draws = append(draws, &answer{times * odds, r.Float64() < 1/(1+math.Pow(10, -odds))})
		}
		if got := calibration(draws); math.Abs(got*times-1) > 0.1 {
			t.Errorf("%g times: %.2f", times, got)
		}
	}
}
