package beat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The Kalman filter foretells an even beat as well as a straight line through
// the last beats does, tells the sides apart, and knows how well it does.
func TestKalman(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const tau, b, sigma = 9600, 35.0, 1.4
	k := newKalman(0, tau*1.001, 0, sigma, tau*0.002)
	var sum, promised float64
	for n := 1; n < 4000; n++ {
		k.step(1)
		v := n % 2
		at := tau*float64(n) + float64(v)*b
		due, sd := k.expect(v)
		z := at + sigma*r.NormFloat64()
		if n > 500 {
			sum += (z - due) * (z - due)
			promised += sd * sd
		}
		k.update(v, z)
	}
	if rms := math.Sqrt(sum / 3499); rms > 1.08*sigma {
		t.Errorf("foretells to %.3f frames, where single beats scatter by %.1f", rms, sigma)
	}
	if ratio := sum / promised; ratio < 0.85 || ratio > 1.15 {
		t.Errorf("its variance is %.2f times what it says", ratio)
	}
	if math.Abs(k.b-b) > 0.5 || math.Abs(k.tau-tau) > 0.02 {
		t.Errorf("interval %.3f, offset %.2f, want %d and %.1f", k.tau, k.b, tau, b)
	}
}

// TestKalmanKeepsUp has an interval that grows from beat to beat by a two-hundredth of the
// scatter, as before a stop, where beats are looked for no farther than some scatters off.
func TestKalmanKeepsUp(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 7))
	const tau, sigma, grows = 7000, 5.0, 5.0 / 200
	k := newKalman(0, tau, 0, sigma, tau*0.002)
	at, step := 0.0, float64(tau)
	for n := 1; n < 2000; n++ {
		k.step(1)
		if n > 1500 {
			step += grows
		}
		at += step
		due, sd := k.expect(n % 2)
		if n > 100 && (math.Abs(at-due) > 6*sigma || sd > 3*sigma) {
			t.Fatalf("beat %d is off by %.1f ± %.1f frames, where single beats scatter by %.1f", n, at-due, sd, sigma)
		}
		k.update(n%2, at+sigma*r.NormFloat64())
	}
}

// TestKalmanKeepsUpWithTheLift has sides marked by contacts at either end of the lift, which
// grows as the energy that is left falls evenly: to an eighth, by when it does by a scatter a beat,
// or to three hundredths, as before a stop, by when it does by nine.
func TestKalmanKeepsUpWithTheLift(t *testing.T) {
	const tau, sigma, full, last = 7000, 2.0, 400.0, 2000
	for _, c := range []struct{ left, off, scatter float64 }{{1. / 8, 8, 5}, {0.03, 48, 12}} {
		r := rand.New(rand.NewPCG(5, 10))
		k := newKalman(-full/2, tau, full, sigma, tau*0.0001)
		for n := 1; n < last; n++ {
			k.step(1)
			lift := full / math.Sqrt(1-(1-c.left)*float64(n)/last)
			mark := tau*float64(n) + (float64(n%2)-0.5)*lift
			if due, sd := k.expect(n % 2); n > 100 && math.Abs(mark-due) > min(c.off*sigma, 4*sd) {
				t.Fatalf("%.3f of the energy left: beat %d is off by %.1f ± %.1f frames, where single beats scatter by %.1f", c.left, n, mark-due, sd, sigma)
			}
			k.update(n%2, mark+sigma*r.NormFloat64())
		}
		if k.sigma > c.scatter*sigma {
			t.Errorf("%.3f of the energy left: the scatter is told to be %.1f frames, not %.1f", c.left, k.sigma, sigma)
		}
	}
}

func TestRunningMedian(t *testing.T) {
	var m running
	if m.median() != 0 {
		t.Error("a median of nothing")
	}
	for i := range 100 {
		m.add(float64(i))
	}
	if got := m.median(); got != 84 {
		t.Errorf("median of the last 31 of 0 … 99 is %g, want 84", got)
	}
}

// TestKalmanSteps has a step of sixty scatters every thirty beats, as a tooth makes that
// hesitates: the next beat but one is due where it comes, and single beats scatter as before.
func TestKalmanSteps(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	const tau, sigma, step, turn = 7000, 1.0, 60.0, 30
	k := newKalman(0, tau, 0, sigma, tau*0.0001)
	at := 0.0
	for n := 1; n < 3000; n++ {
		k.step(1)
		if at += tau; n%turn == 0 {
			at += step
		}
		if due, _ := k.expect(n % 2); n > 300 && n%turn > 1 && math.Abs(at-due) > 6*sigma {
			t.Fatalf("beat %d, %d after the step, is off by %.1f frames, where single beats scatter by %.1f", n, n%turn, at-due, sigma)
		}
		k.update(n%2, at+sigma*r.NormFloat64())
	}
	if k.sigma > 1.5*sigma {
		t.Errorf("the scatter is told to be %.2f frames, not %.1f", k.sigma, sigma)
	}
}

// TestKalmanIgnoresStrays has one beat in five of one side a hundred scatters early, as where
// one of a sound's cycles is taken for another: the others are due where they come.
func TestKalmanIgnoresStrays(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 9))
	const tau, sigma, off = 7000, 1.0, -100.0
	k := newKalman(0, tau, 0, sigma, tau*0.0001)
	at := 0.0
	for n := 1; n < 3000; n++ {
		k.step(1)
		at += tau
		if due, _ := k.expect(n % 2); n > 300 && math.Abs(at-due) > 6*sigma {
			t.Fatalf("beat %d is off by %.1f frames, where single beats scatter by %.1f", n, at-due, sigma)
		}
		z := at + sigma*r.NormFloat64()
		if n%10 == 5 {
			z += off
		}
		k.update(n%2, z)
	}
}

// TestKalmanFollowsABeatError has one side come late from a beat on, as at full wind far out
// of beat: the first such beat may be displaced alone, the second one is not.
func TestKalmanFollowsABeatError(t *testing.T) {
	const tau, late = 7000, 20
	k := newKalman(0, tau, 0, 1, tau*0.0001)
	for n := 1; n <= 303; n++ {
		k.step(1)
		before, z := k.b, float64(tau*n)
		if n > 300 && n%2 == 1 {
			z += late
		}
		k.update(n%2, z)
		if moved := k.b - before; n == 301 && moved != 0 || n == 303 && !(moved > 0) {
			t.Errorf("beat %d moves the offset by %.3f frames", n, moved)
		}
	}
}
