package analysis

import "rundown/analysis/beat"

// Row is a beat, with what the fit of its window says about it.
type Row struct {
	beat.Beat
	// Interval is the time since the beat before, seconds; NaN for the first.
	Interval float64
	// Residual is by how much the beat came after its place on the line that
	// fits its window, seconds; NaN where the window has none, or the beat was
	// not heard.
	Residual float64
}
