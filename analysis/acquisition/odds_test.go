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
	odds  float64 // that the trials come to, as powers of ten
	right bool
}

// likelihood is the logarithm of how probable it is that the answers are right
// and wrong as they are, where of the powers of ten in the odds the doubt is
// taken off, and the share of temper is left of the rest.
func likelihood(answers []answer, doubt, temper float64) (sum float64) {
	for _, a := range answers {
		e := temper * (a.odds - doubt) * math.Ln10
		if a.right {
			e = -e
		}
		sum -= math.Log1p(math.Exp(e))
	}
	return sum
}

// Of counts that are given at odds of 100 to 1 and more, at most one in 50 is
// wrong. The log has the likeliest doubt and temper (logistic regression).
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
		draws[i] = &answer{h.Odds/temper + doubt, math.Abs(times-1) < 0.01}
		t.Logf("draw %d, %g an hour, %.1f dB: %.3f times the period, odds of 10^%.2f, %.2f before", *oddsFrom+i, rec.Movement.BeatsPerHour, rec.Room.SNR, times, h.Odds, draws[i].odds)
	})
	var found []answer
	var wrong, sure, misled int
	for _, a := range draws {
		if a == nil {
			continue
		}
		found = append(found, *a)
		given := temper*(a.odds-doubt) >= 2
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
	likeliest, most := [2]float64{}, math.Inf(-1)
	for b := 0.0; b < 8; b += 0.1 {
		for c := 0.02; c <= 1; c += 0.02 {
			if l := likelihood(found, b, c); l > most {
				likeliest, most = [2]float64{b, c}, l
			}
		}
	}
	t.Logf("%d draws: %d found, %d of them wrong; %d at 100 to 1 and more, %d of them wrong; the likeliest are a doubt of %.1f and a temper of %.2f", *oddsDraws, len(found), wrong, sure, misled, likeliest[0], likeliest[1])
	if misled*50 > sure {
		t.Errorf("%d of %d counts given at 100 to 1 and more are wrong", misled, sure)
	}
}
