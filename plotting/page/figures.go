package page

import (
	"math"
	"strconv"
)

// figures are written to JSON in nine significant digits, as null where there
// is none.
type figures []float64

// rough figures are those of which three digits say everything.
type rough []float64

// MarshalJSON implements json.Marshaler.
func (f figures) MarshalJSON() ([]byte, error) { return list(f, 9), nil }

// MarshalJSON implements json.Marshaler.
func (r rough) MarshalJSON() ([]byte, error) { return list(r, 3), nil }

func list(xs []float64, digits int) []byte {
	text := []byte{'['}
	for i, x := range xs {
		if i > 0 {
			text = append(text, ',')
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			text = append(text, "null"...)
			continue
		}
		text = strconv.AppendFloat(text, x, 'g', digits, 64)
	}
	return append(text, ']')
}
