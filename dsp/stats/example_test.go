package stats_test

import (
	"fmt"

	"rundown/dsp/stats"
)

// A tooth that acted in 5 of 10 turns may act in from 19 to 81 of 100.
func ExampleProportionInterval() {
	low, high := stats.ProportionInterval(5, 10)
	fmt.Printf("%.2f to %.2f\n", low, high)
	// Output: 0.19 to 0.81
}

// Three runs before and three after a change whose means lie two standard deviations
// apart: whether that is more than chance, few runs leave open.
func ExamplePool() {
	before, after := []float64{1, 2, 3}, []float64{3, 4, 5}
	g := stats.Pool(before, after)
	fmt.Printf("difference 2 ± %.2f, by chance in %.0f of 100\n", g.SE, 100*g.Doubt().Beyond(2))
	// Output: difference 2 ± 0.82, by chance in 7 of 100
}
