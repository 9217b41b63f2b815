// Package train computes how often each part of a going train comes round,
// counted in beats.
package train

// Arbor is one arbor of a going train.
type Arbor struct {
	Name         string  `toml:"name"`
	Pinion       int     `toml:"pinion"`         // leaves by which it is driven; 0 on the first arbor
	Wheel        int     `toml:"wheel"`          // teeth by which it drives the next one; 0 on the last
	Escape       int     `toml:"escape"`         // teeth of the escape wheel; 0 on all but the last
	TurnsPerHour float64 `toml:"turns_per_hour"` // 0 where not given
}

// Train is a going train, from the slowest arbor to the escape wheel. One from
// Load, Parse or EscapeWheel is complete; the methods panic or mislead on any
// other.
type Train struct {
	Arbors []Arbor
}
