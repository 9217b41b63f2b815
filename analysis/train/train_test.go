package train

import (
	"math"
	"math/big"
	"strings"
	"testing"
)

// example is the train whose figures are worked out in the description of the
// train file: 18 000 beats in a turn of the centre arbor, a barrel that turns
// once in eight hours.
const example = `
[[arbor]]
name  = "barrel"
wheel = 96

[[arbor]]
name   = "centre"
pinion = 12
wheel  = 80
turns_per_hour = 1

[[arbor]]
name   = "third"
pinion = 10
wheel  = 75

[[arbor]]
name   = "fourth"
pinion = 10
wheel  = 80

[[arbor]]
name   = "escape"
pinion = 8
escape = 15
`

func mustParse(t *testing.T, text string) *Train {
	t.Helper()
	tr, err := Parse("train.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestBeatsPerTurnAndTooth(t *testing.T) {
	tr := mustParse(t, example)
	turns := []int64{8 * 18000, 18000, 2250, 300, 30}
	for i, want := range turns {
		if got := tr.BeatsPerTurn(i); got.Cmp(big.NewRat(want, 1)) != 0 {
			t.Errorf("%s: %v beats a turn, want %d", tr.Arbors[i].Name, got, want)
		}
	}
	teeth := []*big.Rat{big.NewRat(1500, 1), big.NewRat(225, 1), big.NewRat(30, 1), big.NewRat(15, 4)}
	for i, want := range teeth {
		if got := tr.BeatsPerTooth(i); got.Cmp(want) != 0 {
			t.Errorf("mesh after %s: %v beats a tooth, want %v", tr.Arbors[i].Name, got, want)
		}
	}
}

func TestBeatsPerHour(t *testing.T) {
	if got := mustParse(t, example).BeatsPerHour(); got != 18000 {
		t.Errorf("example: %v beats per hour, want 18000", got)
	}
	moved := strings.Replace(example, "turns_per_hour = 1\n", "", 1)
	if got := mustParse(t, moved).BeatsPerHour(); got != 0 {
		t.Errorf("no arbor fixes the rate: %v beats per hour, want 0", got)
	}
	moved = strings.Replace(moved, "wheel = 96\n", "wheel = 96\nturns_per_hour = 0.125\n", 1)
	if got := mustParse(t, moved).BeatsPerHour(); got != 18000 {
		t.Errorf("fixed by the barrel: %v beats per hour, want 18000", got)
	}
}

func TestCandidates(t *testing.T) {
	got := mustParse(t, example).Candidates()
	want := []struct {
		name  string
		beats string
		teeth int
	}{
		{"escape wheel, one turn", "30", 30},
		{"fourth arbor, one turn", "300", 80},
		{"third arbor, one turn", "2250", 75},
		{"centre arbor, one turn", "18000", 80},
		{"barrel, one turn", "144000", 96},
		{"mesh fourth–escape, one tooth", "15/4", 1},
		{"mesh third–fourth, one tooth", "30", 1},
		{"mesh centre–third, one tooth", "225", 1},
		{"mesh barrel–centre, one tooth", "1500", 1},
	}
	if len(got) != len(want) {
		t.Fatalf("%d candidates, want %d: %v", len(got), len(want), got)
	}
	for i, w := range want {
		if g := got[i]; g.Name != w.name || g.Beats.RatString() != w.beats || g.Teeth != w.teeth {
			t.Errorf("candidate %d: %s, %s beats, %d teeth; want %+v", i, g.Name, g.Beats.RatString(), g.Teeth, w)
		}
	}
}

// A mesh of two beats a tooth is lost in the difference between the sides.
func TestCandidatesLeaveOutTwoBeats(t *testing.T) {
	tr := mustParse(t, `
[[arbor]]
name = "Tourbillon"
wheel = 60
[[arbor]]
name = "escape"
pinion = 15
escape = 15
`)
	got := tr.Candidates()
	if len(got) != 2 || got[0].Name != "escape wheel, one turn" || got[1].Name != "Tourbillon, one turn" || got[1].Beats.RatString() != "120" {
		t.Errorf("got %v", got)
	}
}

func TestEscapeWheel(t *testing.T) {
	tr, err := EscapeWheel(15)
	if err != nil {
		t.Fatal(err)
	}
	if got := tr.Candidates(); len(got) != 1 || got[0].Beats.RatString() != "30" || got[0].Name != "escape wheel, one turn" {
		t.Errorf("candidates %v", got)
	}
	if tr.Barrel() {
		t.Error("a lone escape wheel passes for a barrel")
	}
	for _, teeth := range []int{-1, 0, 2, maxTeeth + 1, math.MaxInt} {
		if _, err := EscapeWheel(teeth); err == nil {
			t.Errorf("%d teeth accepted", teeth)
		}
	}
}

func TestBarrel(t *testing.T) {
	if !mustParse(t, example).Barrel() {
		t.Error("example: the first arbor is a barrel")
	}
	cut := example[strings.Index(example, "[[arbor]]\nname   = \"centre\""):]
	if mustParse(t, cut).Barrel() {
		t.Error("a first arbor with a pinion passes for a barrel")
	}
}

// The counts of a long train of large wheels pass 64 bits; the fraction stays
// exact.
func TestBeatsPerTurnStaysExact(t *testing.T) {
	tr := &Train{Arbors: []Arbor{{Name: "1", Wheel: maxTeeth}}}
	for range maxArbors - 2 {
		tr.Arbors = append(tr.Arbors, Arbor{Pinion: 7, Wheel: maxTeeth})
	}
	tr.Arbors = append(tr.Arbors, Arbor{Pinion: 7, Escape: 15})
	want := new(big.Rat).SetFrac(
		new(big.Int).Mul(big.NewInt(30), new(big.Int).Exp(big.NewInt(maxTeeth), big.NewInt(maxArbors-1), nil)),
		new(big.Int).Exp(big.NewInt(7), big.NewInt(maxArbors-1), nil))
	if got := tr.BeatsPerTurn(0); got.Cmp(want) != 0 {
		t.Errorf("got %v, want %v", got, want)
	}
}
