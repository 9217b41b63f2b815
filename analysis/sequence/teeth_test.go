package sequence

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestTeethAreToldFromTimeLost: in a wheel that is uneven by more than the scatter,
// with a tooth at which time is lost in some turns, most or all, the sum that is lost
// is as uncertain as the errors of the steps say, which have the teeth in common; and
// so are the teeth. Of 200 seeds from 100 on, the mean squares of the deviates were
// 1.1, 1.1 and 0.9.
func TestTeethAreToldFromTimeLost(t *testing.T) {
	for _, share := range []float64{0.3, 0.7, 1} {
		var squares, n float64
		for i := range *trials {
			m := even(*firstSeed+uint64(i)+99, 4500)
			m.uneven = 50e-6
			m.hesitate = &hesitation{phase: 7, share: share, size: 1.5e-3}
			tr := m.run()
			s := Tell(tr.beats)
			if pairs, missed, invented := match(tr, s); len(missed)+len(invented) > 1 || len(s.Turns) != 1 || len(s.Turns[0].Shape) != 30 {
				t.Fatalf("share %g, seed %d: %d found, %d missed, %d invented, %d turns", share, m.seed, len(pairs), len(missed), len(invented), len(s.Turns))
			}
			want, count := 0., float64(len(s.Steps))
			for _, p := range tr.steps {
				want += p.Shift
			}
			common := rise(s.Turns[0].Cov, s.Turns[0].Place(s.Steps[0].Beat))
			variance := count * count * common
			for _, p := range s.Steps {
				variance += p.SE*p.SE - common
			}
			squares += (s.Lost() - want) * (s.Lost() - want) / variance
			n++
		}
		t.Logf("share %g: mean square of the deviates %.2f", share, squares/n)
		if limit := 1 + 4*math.Sqrt(2/n); squares/n > limit || squares/n < 0.05 {
			t.Errorf("share %g: mean square of the deviates of the time lost %.2f, want 0.05 to %.2f", share, squares/n, limit)
		}
	}
}

// TestTellApart begins with a story in which a tooth costs time in every turn, as beats of
// a wheel that makes a saw would have it, and expects the steps where there are any.
func TestTellApart(t *testing.T) {
	m := even(2, 4050)
	m.scatter, m.teeth, m.uneven = 14e-6, 12, 71e-6
	m.hesitate = &hesitation{phase: 13, share: 0.7, size: 2.1e-3}
	tr := m.run()
	l := newLine(tr.beats)
	l.tell()
	want := slices.Clone(l.step)
	place, ok := l.placeOfSteps()
	if !ok || place != 13 {
		t.Fatalf("most steps are at place %d", place)
	}
	for j, at := range l.index {
		l.step[j] = l.step[j] || j > 0 && at%l.period == place
	}
	l.weigh()
	l.fitTeeth()
	if !l.tellApart() || !slices.Equal(l.step, want) {
		t.Error("hesitations in every turn are not told from those in some")
	}
	if l.tellApart() {
		t.Error("told apart twice")
	}
}

// TestEvenTeeth: where time is lost at one tooth of an even wheel, the others are found
// to be even, and add next to nothing to the error of a step.
func TestEvenTeeth(t *testing.T) {
	m := even(3, 4500)
	m.hesitate = &hesitation{phase: 7, share: 0.5, size: 1.5e-3}
	s := Tell(m.run().beats)
	if len(s.Turns) != 1 || len(s.Turns[0].Shape) != 30 {
		t.Fatalf("turns %v, want one of 30 beats", s.Turns)
	}
	if of := rise(s.Turns[0].Cov, 7); of > 0.01*s.Steps[0].SE*s.Steps[0].SE {
		t.Errorf("the teeth leave a variance of %g s² to a step of error %g s", of, s.Steps[0].SE)
	}
	for p, late := range s.Turns[0].Shape {
		if math.Abs(late) > 0.1*m.scatter {
			t.Errorf("beats at place %d late by %g s", p, late)
		}
	}
}

func TestPlace(t *testing.T) {
	turn := Turn{Origin: 100, Shape: make([]float64, 30)}
	for index, want := range map[int64]int{100: 0, 129: 29, 130: 0, 99: 29, 70: 0, 39: 29} {
		if got := turn.Place(index); got != want {
			t.Errorf("beat %d at place %d, want %d", index, got, want)
		}
	}
}

// TestAugmented: the normal equations of the teeth are those of least squares where
// course and steps are columns as well.
func TestAugmented(t *testing.T) {
	m := even(5, 240)
	m.teeth, m.uneven, m.walk = 6, 50e-6, 0
	m.steps = map[int]float64{100: 2e-3, 160: 1e-3}
	l := newLine(m.run().beats)
	copy(l.y, l.raw)
	l.estimateScatter()
	l.step[100], l.step[160] = true, true
	for i := range l.blocks {
		l.blocks[i].memory = 1e6 // the course is a parabola, the beat error a straight line
	}
	l.weigh()
	l.period = 12
	normal, right := l.augmented(12)
	n := len(l.raw)
	course, teeth := mat.NewDense(n, 7, nil), mat.NewDense(n, 12, nil)
	y := mat.NewVecDense(n, nil)
	for j := range n {
		x, w := float64(j)/float64(n), 1/math.Sqrt(l.v[j])
		row := []float64{1, x, x * x, l.sign[j], l.sign[j] * x, 0, 0}
		if j >= 100 {
			row[5] = 1
		}
		if j >= 160 {
			row[6] = 1
		}
		for k := range row {
			row[k] *= w
		}
		course.SetRow(j, row)
		teeth.Set(j, j%12, w)
		y.SetVec(j, w*l.raw[j])
	}
	without := func(b mat.Matrix) *mat.Dense { // b less its fit by the course
		var c, out mat.Dense
		if err := c.Solve(course, b); err != nil {
			t.Fatal(err)
		}
		out.Mul(course, &c)
		out.Sub(b, &out)
		return &out
	}
	var wantNormal, wantRight mat.Dense
	wantNormal.Mul(teeth.T(), without(teeth))
	wantRight.Mul(teeth.T(), without(y))
	if !mat.EqualApprox(normal, &wantNormal, 1e-3) || !mat.EqualApprox(right, &wantRight, 1e-2) {
		t.Errorf("normal equations\n%.3f\n%.3f\nwant\n%.3f\n%.3f", mat.Formatted(normal), mat.Formatted(right.T()), mat.Formatted(&wantNormal), mat.Formatted(wantRight.T()))
	}
}

// TestLaterTurnsAreTwice has a tooth that costs as much as a beat moves in every turn, and more
// in the last ones, of which a sound's cycle is taken for another: the teeth must not take up
// the time lost in all the others, which would be gone from the rate.
func TestLaterTurnsAreTwice(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		m := even(seed, 8800)
		m.scatter = 100e-6
		m.hesitate = &hesitation{phase: 8, share: 1, size: 2.9e-3}
		m.steps = map[int]float64{}
		for i := 8408; i < 8780; i += 30 {
			m.steps[i] = 0.8e-3
		}
		tr := m.run()
		if pairs, missed, invented := match(tr, Tell(tr.beats)); len(missed)+len(invented) > 2 {
			t.Errorf("seed %d: %d found, %d missed, %d invented", seed, len(pairs), len(missed), len(invented))
		}
	}
}
