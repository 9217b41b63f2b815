package rate

import "math"

// noise is a power-law noise by the exponent α of its spectrum of fractional
// frequency: 2 white phase, 1 flicker phase, 0 white frequency, −1 flicker
// frequency, −2 random walk of frequency.
type noise int

// String returns the noise's name.
func (n noise) String() string {
	return map[noise]string{
		2: "white phase", 1: "flicker phase", 0: "white frequency",
		-1: "flicker frequency", -2: "random-walk frequency",
	}[n]
}

// identify returns the noise that dominates x at averaging factor m, from the
// lag-1 autocorrelation of the phase decimated by m (NIST SP 1065, section
// 5.5.6; W. J. Riley and C. A. Greenhall, "Power law noise identification using
// the lag 1 autocorrelation", 2004). It reports false where fewer than 100
// values are left; with the 30 that the handbook asks for, one series of white
// frequency noise in five is misnamed.
func identify(x []float64, m int) (noise, bool) {
	const fewest = 100
	var z []float64
	for i := 0; i < len(x); i += m {
		z = append(z, x[i])
	}
	for d := 0; ; d++ {
		n := 0
		mean := 0.
		for _, v := range z {
			if !math.IsNaN(v) {
				mean += v
				n++
			}
		}
		if n < fewest {
			return 0, false
		}
		mean /= float64(n)
		var lag, square float64
		for i, v := range z {
			if math.IsNaN(v) {
				continue
			}
			square += (v - mean) * (v - mean)
			if i > 0 && !math.IsNaN(z[i-1]) {
				lag += (v - mean) * (z[i-1] - mean)
			}
		}
		r := lag / square
		delta := r / (1 + r)
		if delta < 0.25 || d == 3 {
			alpha := math.Round(-2*(delta+float64(d))) + 2
			return noise(math.Max(-2, math.Min(2, alpha))), true
		}
		for i := range z[1:] {
			z[i] = z[i+1] - z[i]
		}
		z = z[:len(z)-1]
	}
}

// equivalentFreedom returns the equivalent degrees of freedom of an
// overlapping Allan variance, or of a modified one, of n phase values at
// averaging factor m (C. A. Greenhall and W. J. Riley, "Uncertainty of
// stability variances based on finite differences", PTTI 2003; NIST SP 1065,
// section 5.4.1): the basic sum of the autocovariance of generalised second
// differences, taken in full.
func equivalentFreedom(n, m int, alpha noise, modified bool) float64 {
	const order = 2
	f, s := float64(m), float64(m) // filter and stride
	longest := float64(order*m + 1)
	if modified {
		f, longest = 1, float64((order+1)*m)
	}
	summands := 1 + math.Floor(float64(n)-longest)
	if summands < 1 {
		return math.NaN()
	}
	if alpha <= 0 {
		// The limit of a long filter; a longer one would only lose digits.
		f = math.Min(f, 1000)
	}
	j := int(math.Min(summands, (order+1)*s))
	zero := covariance(0, f, alpha)
	sum := zero * zero
	for k := 1; k < j; k++ {
		c := covariance(float64(k)/s, f, alpha)
		sum += 2 * (1 - float64(k)/summands) * c * c
	}
	c := covariance(float64(j)/s, f, alpha)
	sum += (1 - float64(j)/summands) * c * c
	return summands * zero * zero / sum
}

// covariance is Greenhall and Riley's s_z: that of second differences at
// distance t, in units of the averaging time.
func covariance(t, f float64, alpha noise) float64 {
	sx := func(t float64) float64 {
		return f * f * (2*kernel(t, alpha) - kernel(t-1/f, alpha) - kernel(t+1/f, alpha))
	}
	return 6*sx(t) - 4*sx(t-1) - 4*sx(t+1) + sx(t-2) + sx(t+2)
}

// kernel is their s_w, the generalised autocovariance of the phase.
func kernel(t float64, alpha noise) float64 {
	t = math.Abs(t)
	switch alpha {
	case 2:
		return -t
	case 1:
		if t == 0 {
			return 0
		}
		return t * t * math.Log(t)
	case 0:
		return t * t * t
	case -1:
		if t == 0 {
			return 0
		}
		return -t * t * t * t * math.Log(t)
	}
	return -t * t * t * t * t
}
