package synth_test

import (
	"fmt"

	"rundown/dsp/synth"
)

// A movement that gains 12 seconds a day, out of beat by 0.8 ms. A tock is late by as
// much against the two ticks about it.
func Example() {
	rec := synth.Recording{
		Seed:     1,
		Duration: 60,
		Movement: synth.Movement{BeatsPerHour: 18000, Rate: 12, BeatError: 0.8e-3, Jitter: -1, Start: 0.1},
	}
	truth := rec.Truth()
	b := truth.Beats
	fmt.Printf("%d beats, rate %.1f s/day\n", len(b), truth.Rate(0, 60))
	fmt.Printf("%.2f ms\n", 1e3*(b[1].Time-(b[0].Time+b[2].Time)/2))
	// Output:
	// 300 beats, rate 12.0 s/day
	// 0.80 ms
}
