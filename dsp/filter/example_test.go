package filter_test

import (
	"fmt"
	"math"

	"rundown/dsp/filter"
)

// A tone in the band passes whole: the mean square of an amplitude of 1 is a half. Of
// one far below, next to nothing is left.
func ExampleBand_Blocks() {
	const rate = 48000
	band := filter.NewBand(5000, 1, rate)
	block := filter.BlockFrames(rate)
	for _, hz := range []float64{5000, 50} {
		x := make([]float32, 100*block)
		for i := range x {
			x[i] = float32(math.Sin(2 * math.Pi * hz * float64(i) / rate))
		}
		e := band.Blocks(x, block)
		fmt.Printf("%g Hz: %.3f\n", hz, e[len(e)-1])
	}
	// Output:
	// 5000 Hz: 0.500
	// 50 Hz: 0.000
}
