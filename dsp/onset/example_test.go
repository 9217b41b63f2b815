package onset_test

import (
	"fmt"
	"slices"

	"rundown/dsp/onset"
)

// A sound that sets in after half a second of a steady room, in blocks of a
// millisecond, stands out where it does, and not while it rings on.
func ExampleStrength() {
	energies := slices.Repeat([]float32{1}, 1000)
	for i := 500; i < 520; i++ {
		energies[i] = 100
	}
	strength := onset.Strength(nil, energies, 1000)
	at := slices.Index(strength, slices.Max(strength))
	fmt.Printf("at %d ms: %.1f; at 515 ms: %.1f\n", at, strength[at], strength[515])
	// Output: at 500 ms: 3.9; at 515 ms: 0.0
}
