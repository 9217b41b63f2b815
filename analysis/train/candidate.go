package train

import (
	"math/big"
	"strings"
)

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
