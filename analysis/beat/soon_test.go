package beat

import (
	"testing"

	"rundown/dsp/synth"
)

// begun returns a run in which the tracker is set on the beat.
func begun(t *testing.T) *follower { return begunOn(t, movement(18000, 40, 30)) }

// begunOn is begun for a recording.
func begunOn(t *testing.T, rec synth.Recording) *follower {
	f := newFollower(t.Context(), rec.Render(), Options{}, nil)
	if err := f.find(); err != nil || f.tracker == nil {
		t.Fatal(err)
	}
	return f
}

// TestNoBeatBeforeTheLastOne gives a tracker beats that come before the last one or soon after it:
// what is heard there is no beat, and what is due there and not heard is given out after it.
func TestNoBeatBeforeTheLastOne(t *testing.T) {
	f := begun(t)
	beats := len(f.batch.Beats)
	for name, by := range map[string]float64{"before": -5, "at once": 0, "too soon": 100} {
		tr, k := *f.tracker, *f.tracker.k
		tr.k = &k
		if tr.heard(place{at: tr.last + by, snr: 30}); len(f.batch.Beats) != beats || tr.k != nil {
			t.Errorf("%s: a beat was heard", name)
		}
	}
	f.tracker.unheard(f.tracker.last - 5)
	if b := f.batch.Beats; !(b[len(b)-1].Time > b[len(b)-2].Time) {
		t.Errorf("not heard at %.4f s, after one at %.4f s", b[len(b)-1].Time, b[len(b)-2].Time)
	}
}

// TestReplayOfABeatTooSoon: where one of the beats that were found going back comes too soon after the
// one before, the movement is looked for from there on.
func TestReplayOfABeatTooSoon(t *testing.T) {
	f := begun(t)
	at := f.tracker.last
	f.tracker.replay([]earlierBeat{{n: -4, place: place{at: at + 1600, snr: 30}}, {n: -3, place: place{at: at + 1700, snr: 30}}, {n: -1, place: place{at: at + 6400, snr: 30}}})
	if f.tracker.k != nil || f.tracker.lost == nil {
		t.Error("it is followed on")
	}
}

// TestWeakBesideWhatWasLearned looks for a beat, none of which has been heard yet, some
// milliseconds after where it comes: what rings on there is far weaker than what was learned, and is
// not taken for it.
func TestWeakBesideWhatWasLearned(t *testing.T) {
	rec := movement(18000, 40, 30)
	rec.Sound = synth.Sound{LowHz: 900, HighHz: 1300, Modes: 2, Decay: 3e-3}
	f := begunOn(t, rec)
	for late := 3.2e-3; late < 8e-3; late += 0.1e-3 {
		tr, k := *f.tracker, *f.tracker.k
		tr.snrs = [2]running{}
		k.x += late * tr.model.rate
		if p, due, ok := tr.look(&k, tr.next); ok {
			t.Errorf("due %.1f ms late: heard %.2f ms from there, SNR %.1f of %.1f", 1e3*late, 1e3*(p.at-due)/tr.model.rate, p.snr, tr.usual(tr.sideOf(tr.next)))
		}
	}
}
