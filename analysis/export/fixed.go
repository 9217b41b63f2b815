package export

import (
	"math"
	"strconv"
)

// powers are the powers of ten by number of decimals.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// appendFixed appends x with the given number of decimals, or nothing if x is
// not a finite number. It writes what strconv.AppendFloat does: most numbers as
// a whole number of last places, in a third of the time.
func appendFixed(dst []byte, x float64, decimals int) []byte {
	const whole, undecided = 1 << 53, 0.499999 // of whole numbers that a float64 holds; of a last place
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return dst
	}
	power := powers[decimals]
	places := math.RoundToEven(math.Abs(x) * power)
	rest := math.FMA(math.Abs(x), power, -places)
	if places >= whole || math.Abs(rest) > undecided {
		return strconv.AppendFloat(dst, x, 'f', decimals, 64)
	}
	if math.Signbit(x) {
		dst = append(dst, '-')
	}
	return appendPlaces(dst, uint64(places), decimals)
}

// appendPlaces appends n with the decimal point before the last of its digits.
func appendPlaces(dst []byte, n uint64, decimals int) []byte {
	var digits [24]byte
	at := len(digits)
	for i := 0; n > 0 || i <= decimals; i++ {
		if i == decimals && i > 0 {
			at--
			digits[at] = '.'
		}
		at--
		digits[at] = '0' + byte(n%10)
		n /= 10
	}
	return append(dst, digits[at:]...)
}
