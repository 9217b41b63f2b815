package analysis

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strconv"
)

// Number is a figure of the summary. NaN means that there is none and is null
// in JSON, as is anything else that is not finite.
type Number float64

// None is the figure that could not be had.
func None() Number { return Number(math.NaN()) }

// Known reports whether there is a figure.
func (n Number) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }

// MarshalJSON writes 12 significant digits: finer than any figure of a run,
// and coarse enough to hide the last bits of floating-point sums.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(n), 'g', 12, 64), nil
}

// Cell is the figure as a table has it, as in JSON, empty where there is none.
func (n Number) Cell() string {
	if !n.Known() {
		return ""
	}
	return strconv.FormatFloat(float64(n), 'g', 12, 64)
}

// UnmarshalJSON reads a number, or null as NaN.
func (n *Number) UnmarshalJSON(text []byte) error {
	if bytes.Equal(text, []byte("null")) {
		*n = None()
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}

// WriteJSON writes v as indented JSON with a final newline. The error is that of w, or
// of the encoder.
func WriteJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
