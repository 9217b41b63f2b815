package fusee

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// perRound is into how many cells a turn of the fusee is divided.
const perRound = 48

// Groove is the middle line of the chain on a fusee.
type Groove struct {
	Turns  float64 // of the fusee, from the large end to the small one
	Pitch  float64 // along the axis for a turn, mm
	radius interp.DerivativePredictor
	nodes  []float64 // turns at which cells meet
	chain  []float64 // length from the large end to each node, mm
}

// newGroove measures a middle line that bends at the nodes alone.
func newGroove(nodes []float64, pitch float64, radius interp.DerivativePredictor) *Groove {
	g := &Groove{Turns: nodes[len(nodes)-1], Pitch: pitch, radius: radius, nodes: nodes, chain: make([]float64, len(nodes))}
	for i := 1; i < len(nodes); i++ {
		g.chain[i] = g.chain[i-1] + g.length(nodes[i-1], nodes[i])
	}
	return g
}

// Radius is that of the chain's middle line, mm, at a turn from the large end.
func (g *Groove) Radius(turn float64) float64 { return g.radius.Predict(turn) }

// Arm is the length of chain that a radian of the fusee takes up there, mm: the lever
// at which the pull works.
func (g *Groove) Arm(turn float64) float64 {
	const radian = 1 / (2 * math.Pi)
	return math.Sqrt(math.Pow(g.radius.Predict(turn), 2) + math.Pow(g.Pitch*radian, 2) + math.Pow(g.radius.PredictDerivative(turn)*radian, 2))
}

// Chain is the length of chain from the large end to a turn, mm.
func (g *Groove) Chain(turn float64) float64 {
	i := min(int(turn/g.Turns*float64(len(g.nodes)-1)), len(g.nodes)-2)
	for i > 0 && g.nodes[i] > turn {
		i--
	}
	for i < len(g.nodes)-2 && g.nodes[i+1] <= turn {
		i++
	}
	return g.chain[i] + g.length(g.nodes[i], turn)
}

// length is that of the chain within one cell.
func (g *Groove) length(from, to float64) float64 {
	return 2 * math.Pi * integral(g.Arm, from, to)
}

// evenly are nodes from 0 to turns, no more than a cell apart.
func evenly(turns float64) []float64 {
	n := int(math.Ceil(turns * perRound))
	nodes := make([]float64, n+1)
	for i := range nodes {
		nodes[i] = turns * float64(i) / float64(n)
	}
	return nodes
}

// Row is a line of the table for the lathe.
type Row struct {
	Turn   float64 // from the large end
	Axial  float64 // from the large end, mm
	Radius float64 // of the chain's middle line, mm, rounded
}

// rows are the table of a groove, a step in turns apart and one at the small end,
// its radii rounded to a multiple of rounding.
func (g *Groove) rows(step, rounding float64) []Row {
	var rows []Row
	add := func(turn float64) {
		rows = append(rows, Row{turn, turn * g.Pitch, rounding * math.Round(g.Radius(turn)/rounding)})
	}
	for i := 0; float64(i)*step < g.Turns-1e-6; i++ {
		add(float64(i) * step)
	}
	add(g.Turns)
	return rows
}

// cut is the groove that follows straight lines between the rows of a table.
func cut(rows []Row, pitch float64) *Groove {
	turns, radii := make([]float64, len(rows)), make([]float64, len(rows))
	for i, r := range rows {
		turns[i], radii[i] = r.Turn, r.Radius
	}
	return newGroove(turns, pitch, straight{turns, radii})
}

// straight is a polyline.
type straight struct{ x, y []float64 }

// Predict implements interp.Predictor.
func (s straight) Predict(x float64) float64 {
	i := s.cell(x)
	return s.y[i] + (x-s.x[i])*s.PredictDerivative(x)
}

// PredictDerivative implements interp.DerivativePredictor.
func (s straight) PredictDerivative(x float64) float64 {
	i := s.cell(x)
	return (s.y[i+1] - s.y[i]) / (s.x[i+1] - s.x[i])
}

func (s straight) cell(x float64) int {
	i := 0
	for i < len(s.x)-2 && s.x[i+1] <= x {
		i++
	}
	return i
}
