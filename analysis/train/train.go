// Package train computes how often each part of a going train comes round,
// counted in beats.
package train

import (
	"math/big"
	"strings"
)

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

// BeatsPerTurn is the exact number of beats in one turn of Arbors[i]: twice the
// teeth of the escape wheel for the last arbor; for any other one that of the
// next arbor, times its own wheel, over the next one's pinion.
func (t *Train) BeatsPerTurn(i int) *big.Rat {
	last := len(t.Arbors) - 1
	beats := big.NewRat(2*int64(t.Arbors[last].Escape), 1)
	for ; last > i; last-- {
		beats.Mul(beats, big.NewRat(int64(t.Arbors[last-1].Wheel), int64(t.Arbors[last].Pinion)))
	}
	return beats
}

// BeatsPerTooth is the exact number of beats in which the mesh between
// Arbors[i], which must not be the last, and the next arbor moves on by one
// tooth: beats per turn over the teeth of the wheel.
func (t *Train) BeatsPerTooth(i int) *big.Rat {
	beats := t.BeatsPerTurn(i)
	return beats.Quo(beats, big.NewRat(int64(t.Arbors[i].Wheel), 1))
}

// BeatsPerHour is the nominal count that turns_per_hour fixes; 0 where no arbor
// gives it.
func (t *Train) BeatsPerHour() float64 {
	for i, a := range t.Arbors {
		if a.TurnsPerHour != 0 {
			beats, _ := t.BeatsPerTurn(i).Float64()
			return beats * a.TurnsPerHour
		}
	}
	return 0
}

// Barrel reports whether the first arbor is where the power comes in: nothing
// drives it, and it drives another one.
func (t *Train) Barrel() bool {
	return t.Arbors[0].Pinion == 0 && t.Arbors[0].Escape == 0
}

// Candidate is a part of the train that comes round.
type Candidate struct {
	Name  string   // "third arbor, one turn"; "mesh third–fourth, one tooth"
	Beats *big.Rat // exact period, beats
	// Teeth is the number of teeth that act one after the other in one period:
	// those of the wheel, or twice those of the escape wheel, each of which acts
	// on both pallets. It is 1 for a mesh.
	Teeth int
}

// Candidates lists what comes round in the train, the escape wheel first, every
// arbor before every mesh. Left out is what comes round within two beats: it
// can't be told apart from the difference between tick and tock.
func (t *Train) Candidates() []Candidate {
	var list []Candidate
	add := func(c Candidate) {
		if c.Beats.Cmp(big.NewRat(2, 1)) > 0 {
			list = append(list, c)
		}
	}
	for i := len(t.Arbors) - 1; i >= 0; i-- {
		add(Candidate{t.Title(i) + ", one turn", t.BeatsPerTurn(i), max(t.Arbors[i].Wheel, 2*t.Arbors[i].Escape)})
	}
	for i := len(t.Arbors) - 2; i >= 0; i-- {
		name := "mesh " + t.Arbors[i].Name + "–" + t.Arbors[i+1].Name + ", one tooth"
		add(Candidate{name, t.BeatsPerTooth(i), 1})
	}
	return list
}

// selfNamed are the words that tell what a part is; an arbor whose name ends in
// one of them needs no "arbor" after it.
var selfNamed = []string{"arbor", "barrel", "cage", "carriage", "drum", "fusee", "karussel", "tourbillon", "wheel"}

// Title is how a maker would call Arbors[i]: "third arbor", "escape wheel",
// "carriage".
func (t *Train) Title(i int) string {
	name := t.Arbors[i].Name
	for _, word := range selfNamed {
		if strings.HasSuffix(strings.ToLower(name), word) {
			return name
		}
	}
	if t.Arbors[i].Escape != 0 {
		return name + " wheel"
	}
	return name + " arbor"
}
