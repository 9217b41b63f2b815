package stats

import "math"

// Inflation returns by what factor the variance of a mean of residuals, in order of time and
// of mean zero, is greater than were they independent: (1 + ρ)/(1 − ρ) for an
// autoregression of the first order, whose lag-one autocorrelation is ρ (M. S. Bartlett, J. R.
// Stat. Soc. Suppl. 8, 1946; from memory). It is at least 1, since residuals that alternate
// may do so by chance, and 1 of none.
func Inflation(residuals []float64) float64 {
	var lagged, squares float64
	for i, v := range residuals {
		squares += v * v
		if i > 0 {
			lagged += v * residuals[i-1]
		}
	}
	if squares == 0 {
		return 1
	}
	const most = 0.95 // beyond, some residuals tell no more of it
	rho := math.Max(0, math.Min(most, lagged/squares))
	return (1 + rho) / (1 - rho)
}
