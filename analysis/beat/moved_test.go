package beat

import (
	"math"
	"testing"

	"rundown/dsp/synth"
)

// TestInPhaseAgain holds what passes for a movement that never stood still: beats that
// are not heard, and then one within a hundredth of an interval of its place after three,
// but not after half a minute.
func TestInPhaseAgain(t *testing.T) {
	const rate, tau = 48000, 48000.
	tr := &tracker{model: &soundModel{rate: rate, period: 2 * tau}}
	for _, c := range []struct{ beats, off float64 }{{3, 1.2e-3}, {3, -9e-3}} {
		if got := tr.tolerance(newKalman(0, tau, 0, 2, 0.01), c.beats); math.Abs(c.off)*rate > got {
			t.Errorf("%v ms out of place after %v beats is none of its own: %.2f ms", 1e3*c.off, c.beats, 1e3*got/rate)
		}
	}
	if got := tr.tolerance(newKalman(0, tau, 0, 2, 0.01), 30); got > 1.2e-3*rate {
		t.Errorf("after 30 beats %.2f ms pass for none", 1e3*got/rate)
	}
}

// similar is a movement whose contacts sound alike, and which something befalls.
func similar(seed uint64, faults ...synth.Fault) synth.Recording {
	rec := movement(18000, 40, 30)
	rec.Seed = seed
	rec.Sound = synth.Sound{Modes: 1, LowHz: 3000, HighHz: 3001, Decay: 0.7e-3, UnlockLevel: -3, ImpulseLevel: -2}
	rec.Movement.Faults = faults
	return rec
}

// TestMovedByCycles has movements that hesitate by nearly two cycles of what their sounds ring with,
// nine times the scatter of their beats: that beats are found in place once they were displaced is no
// reason to place the first ones where they were due. Where it is, seven of 2 880 are off by a cycle.
func TestMovedByCycles(t *testing.T) {
	var wrong, beats int
	for seed := uint64(1); seed <= 6; seed++ {
		rec := movement(28800, 60, 28)
		rec.Seed = seed
		rec.Movement.Jitter = 130e-6
		rec.Sound = synth.Sound{Modes: 2, LowHz: 1250, HighHz: 2400, Decay: 0.8e-3}
		for at := 10.3; at < 55; at += 3.75 {
			rec.Movement.Faults = append(rec.Movement.Faults, synth.Fault{Kind: "late", Occasion: synth.Occasion{At: at}, Size: 1.28e-3})
		}
		all, _ := run(t, rec.Render(), Options{})
		truth := rec.Truth()
		var offs [2][]float64
		for _, b := range all.Beats {
			if off, _ := nearest(truth, b.Time); b.Heard {
				offs[b.Side] = append(offs[b.Side], off)
			}
		}
		for _, side := range offs {
			usual := median(side)
			for _, off := range side {
				beats++
				if math.Abs(off-usual) > 0.4e-3 {
					wrong++
				}
			}
		}
	}
	if wrong*1000 > beats {
		t.Errorf("%d of %d beats are marked by another cycle", wrong, beats)
	}
}

// checkMarks checks that all beats of a side are marked by one sound.
func checkMarks(t *testing.T, rec synth.Recording) {
	t.Helper()
	all, _ := run(t, rec.Render(), Options{})
	truth := rec.Truth()
	var usual [2]float64 // sides may be marked by unlike sounds
	for side := range usual {
		usual[side], _ = nearest(truth, all.Beats[side].Time)
	}
	first := all.Beats[0].Side
	for _, b := range all.Beats {
		side := int(b.Side ^ first)
		if off, i := nearest(truth, b.Time); b.Heard && math.Abs(off-usual[side]) > 1.5e-3 {
			t.Errorf("seed %d, %v: beat %d is marked %.2f ms from where the others are", rec.Seed, rec.Movement.Faults, i, 1e3*(off-usual[side]))
			return
		}
	}
}

// TestContactsAlike has movements whose contacts sound alike: which of them marks a beat stays so.
func TestContactsAlike(t *testing.T) {
	hesitations, losses := 0, 0
	for seed := uint64(63); seed < 68; seed++ {
		tr := begunOn(t, similar(seed)).tracker
		hesitations += checkAnotherInItsPlace(t, seed, tr.model)
		losses += checkAsBefore(t, seed, tr)
	}
	if hesitations < 2 || losses == 0 {
		t.Errorf("%d and %d sounds before those that mark the beats", hesitations, losses)
	}
}

// checkAnotherInItsPlace has such a movement hesitate by as much as two of its sounds lie apart: one
// comes where the other was due. The mark stays with its sound; two of the seeds mislead by the
// clearest sound alone. It returns how many sounds were tried.
func checkAnotherInItsPlace(t *testing.T, seed uint64, e *soundModel) (tried int) {
	t.Helper()
	for _, c := range e.templates[0].contacts {
		if by := (e.templates[0].mark - c.At) / sampled; by > 2e-3 {
			tried++
			checkMarks(t, similar(seed, synth.Fault{Kind: "late", Occasion: synth.Occasion{At: 20}, Size: by}))
		}
	}
	return tried
}

// checkAsBefore has such a movement lost at its end, and found again by a sound of its beats that comes
// before the one that marked them, or by that one: it is marked by that one. It returns how many
// sounds before it were tried.
func checkAsBefore(t *testing.T, seed uint64, tr *tracker) (tried int) {
	t.Helper()
	tr.run()
	v := tr.sideOf(tr.next)
	due, _ := tr.k.expect(v)
	mark, _ := tr.find(v, due, 1e-3*sampled)
	tr.lose()
	if q := tr.asBefore(v, mark); q != mark {
		t.Errorf("seed %d: the mark was taken for a sound %.2f ms later", seed, 1e3*(q.at-mark.at)/sampled)
	}
	for _, c := range tr.model.templates[v].contacts {
		by := tr.model.templates[v].mark - c.At
		if by < 2e-3*sampled {
			continue
		}
		tried++
		if q := tr.asBefore(v, place{mark.at - by, mark.snr}); math.Abs(q.at-mark.at) > 0.5e-3*sampled {
			t.Errorf("seed %d: %.2f ms before the mark, found %.2f ms from it", seed, 1e3*by/sampled, 1e3*(q.at-mark.at)/sampled)
		}
	}
	return tried
}
