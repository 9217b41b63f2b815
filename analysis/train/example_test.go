package train_test

import (
	"fmt"

	"rundown/analysis/train"
)

// What comes round in a train of two arbors, in beats.
func Example() {
	t, err := train.Parse("clock.toml", []byte(`
[[arbor]]
name  = "fourth"
wheel = 80

[[arbor]]
name   = "escape"
pinion = 8
escape = 15
`))
	if err != nil {
		panic(err)
	}
	for _, c := range t.Candidates() {
		fmt.Println(c.Name+":", c.Beats.RatString(), "beats")
	}
	// Output:
	// escape wheel, one turn: 30 beats
	// fourth arbor, one turn: 300 beats
	// mesh fourth–escape, one tooth: 15/4 beats
}
