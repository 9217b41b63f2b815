package acquisition

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"rundown/dsp/synth"
)

var oddsDraws = flag.Int("odds", 0, "movements drawn at random from which the odds of the count are judged; 0 skips that")

// hardDraw is a movement drawn at random at 6 to 18 dB, every other one with
// sides equally loud and nearly in beat, and a tooth that hesitates in most
// turns.
func hardDraw(i int) synth.Recording {
	r := rand.New(rand.NewPCG(uint64(i), 94))
	rec := synth.Random(uint64(70_000+i), 30, 6+12*r.Float64())
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

// Of counts that are given at odds of 100 to 1 and more, at most one in 50 is
// wrong. It logs by how much the evidence would have to be tempered for the odds
// to hold: the greatest likelihood of a logistic curve through even odds at none.
func TestOddsHold(t *testing.T) {
	if *oddsDraws == 0 {
		t.Skip("skipped: takes minutes; -odds gives the number of draws")
	}
	type answer struct {
		odds  float64
		right bool
	}
	answers := make([]*answer, *oddsDraws)
	parallel(*oddsDraws, func(i int) {
		rec := hardDraw(i)
		x, rate := stretchOf(t, rec)
		h := Find(context.Background(), x, rate, Options{})
		if h == nil {
			return
		}
		times := h.Period * rec.Movement.BeatsPerHour / 7200 / rate
		answers[i] = &answer{h.Odds / temper, math.Abs(times-1) < 0.01}
		if !answers[i].right {
			t.Logf("draw %d, %g an hour, %.1f dB: %.3f times the period, odds of 10^%.1f", i, rec.Movement.BeatsPerHour, rec.Room.SNR, times, h.Odds)
		}
	})
	likelihood := func(temper float64) (sum float64) {
		for _, a := range answers {
			if a == nil {
				continue
			}
			e := temper * a.odds * math.Ln10
			if a.right {
				e = -e
			}
			sum -= math.Log1p(math.Exp(e))
		}
		return sum
	}
	best := 1.0
	for c := 1.0; c > 0.01; c -= 0.01 {
		if likelihood(c) > likelihood(best) {
			best = c
		}
	}
	var found, wrong, sure, misled int
	for _, a := range answers {
		if a == nil {
			continue
		}
		found++
		if !a.right {
			wrong++
		}
		if temper*a.odds >= 2 {
			sure++
			if !a.right {
				misled++
			}
		}
	}
	t.Logf("%d draws: %d found, %d of them wrong; %d at 100 to 1 and more, %d of them wrong; the likeliest temper is %.2f", *oddsDraws, found, wrong, sure, misled, best)
	if misled*50 > sure {
		t.Errorf("%d of %d counts given at 100 to 1 and more are wrong", misled, sure)
	}
}
