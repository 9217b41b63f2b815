package train

import "math/big"

// BeatsPerTurn is the exact number of beats in one turn of Arbors[i]: twice the
// teeth of the escape wheel for the last arbor; for any other one that of the
// next arbor, times its own wheel, over the next one's pinion.
func (t *Train) BeatsPerTurn(i int) *big.Rat {
	last := len(t.Arbors) - 1
	beats := big.NewRat(2*int64(t.Arbors[last].Escape), 1)
	for ; last > i; last-- {
		beats.Mul(beats, big.NewRat(int64(t.Arbors[last-1].Wheel), int64(t.Arbors[last].Pinion)))
	}
	return beats
}

// BeatsPerTooth is the exact number of beats in which the mesh between
// Arbors[i], which must not be the last, and the next arbor moves on by one
// tooth: beats per turn over the teeth of the wheel.
func (t *Train) BeatsPerTooth(i int) *big.Rat {
	beats := t.BeatsPerTurn(i)
	return beats.Quo(beats, big.NewRat(int64(t.Arbors[i].Wheel), 1))
}

// BeatsPerHour is the nominal count that turns_per_hour fixes; 0 where no arbor
// gives it.
func (t *Train) BeatsPerHour() float64 {
	for i, a := range t.Arbors {
		if a.TurnsPerHour != 0 {
			beats, _ := t.BeatsPerTurn(i).Float64()
			return beats * a.TurnsPerHour
		}
	}
	return 0
}

// Barrel tells whether the first arbor is where the power comes in: nothing
// drives it, and it drives another one.
func (t *Train) Barrel() bool {
	return t.Arbors[0].Pinion == 0 && t.Arbors[0].Escape == 0
}
