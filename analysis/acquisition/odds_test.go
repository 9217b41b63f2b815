package acquisition

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"rundown/dsp/synth"
)

var (
	oddsDraws = flag.Int("odds", 0, "movements drawn at random from which the odds of the count are judged; 0 skips that")
	oddsFrom  = flag.Int("oddsfrom", 0, "number of the first of them")
)

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

// answer is what was found in a draw.
type answer struct {
	odds  float64 // powers of ten
	right bool
}

// Of counts that are given at odds of 100 to 1 and more, at most one in 50 is
// wrong. The log has each draw's.
func TestOddsHold(t *testing.T) {
	if *oddsDraws == 0 {
		t.Skip("skipped: takes minutes; -odds gives the number of draws")
	}
	draws := make([]*answer, *oddsDraws)
	parallel(*oddsDraws, func(i int) {
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
	var found, wrong, sure, misled int
	for _, a := range draws {
		if a == nil {
			continue
		}
		found++
		given := a.odds >= 2
		if given {
			sure++
		}
		if !a.right {
			wrong++
			if given {
				misled++
			}
		}
	}
	t.Logf("%d draws: %d found, %d of them wrong; %d at 100 to 1 and more, %d of them wrong", *oddsDraws, found, wrong, sure, misled)
	if misled*50 > sure {
		t.Errorf("%d of %d counts given at 100 to 1 and more are wrong", misled, sure)
	}
}
