package export

import (
	"math"
	"strconv"
)

// appendFixed appends x with the given number of decimals, or nothing if x is
// not a finite number.
func appendFixed(dst []byte, x float64, decimals int) []byte {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return dst
	}
	return strconv.AppendFloat(dst, x, 'f', decimals, 64)
}
