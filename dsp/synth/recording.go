package synth

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/BurntSushi/toml"
)

// Recording is a movement, its sound, the room and the recorder. The zero value
// is ten minutes of a healthy movement.
type Recording struct {
	Seed     uint64   `toml:"seed"`       // of everything random
	Duration float64  `toml:"duration_s"` // for which the recorder runs, true seconds; 0 means 600
	Movement Movement `toml:"movement"`
	Sound    Sound    `toml:"sound"`
	Room     Room     `toml:"room"`
	Recorder Recorder `toml:"recorder"`
}

func (r Recording) withDefaults() Recording {
	setDefault(&r.Duration, 600)
	r.Movement = r.Movement.withDefaults()
	r.Sound = r.Sound.withDefaults()
	r.Room = r.Room.withDefaults()
	r.Recorder = r.Recorder.withDefaults()
	return r
}

// ReadRecipe reads a recording as TOML. Keys are the names beside the fields;
// one that is left out keeps its zero value, and one that is not known is an
// error.
func ReadRecipe(r io.Reader) (Recording, error) {
	var rec Recording
	about, err := toml.NewDecoder(r).Decode(&rec)
	if err != nil {
		return rec, err
	}
	if unknown := about.Undecoded(); len(unknown) > 0 {
		return rec, fmt.Errorf("there is no key %s: remove it", unknown[0])
	}
	return rec, rec.Check()
}

// Recipe returns every field by its key, those left out with their customary
// values, for writing in any format.
func (r Recording) Recipe() (map[string]any, error) {
	if r.Room.Samples != nil {
		return nil, errors.New("a room made of samples has no recipe")
	}
	var text bytes.Buffer
	if err := toml.NewEncoder(&text).Encode(r.withDefaults()); err != nil {
		return nil, err
	}
	recipe := make(map[string]any)
	_, err := toml.NewDecoder(&text).Decode(&recipe)
	return recipe, err
}

// DemoTrain is the going train of the clock in Demo, as a train file.
const DemoTrain = `# A small travelling clock of 18 000 beats an hour.

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

// Demo returns the recording that shows newcomers what there is to see.
//
// A maker has finished a small travelling clock. The mainspring on the bench is
// a short one, good for 23 minutes instead of a night, just to see whether the
// train is free. Wound fully, it gains at first, then settles on a plateau where
// the rate hardly moves, and falls off steeply before it stops. The escape wheel
// was cut on a dividing plate with a burr: tooth 11 catches once in about five
// turns and costs some milliseconds. The fourth wheel runs a little out of true.
// The movement hesitates twice, for reasons of its own. While the maker is out,
// a door slams and a lorry passes.
func Demo() Recording {
	return Recording{
		Seed:     1901,
		Duration: 1440,
		Movement: Movement{
			BeatsPerHour: 18000,
			BeatError:    0.9e-3,
			Rate:         6,
			Isochronism:  0.35,
			Wander:       1,
			LiftAngle:    50,
			Least:        165,
			Mainspring:   Mainspring{RunTime: 1400, Full: 292, End: 150, Slope: 0.06, Exponent: 14},
			Faults: []Fault{
				{Kind: "late", Occasion: Occasion{At: 431}, Size: 42e-3},
				{Kind: "late", Occasion: Occasion{At: 987}, Size: 67e-3},
			},
			Recurrences: BadTooth(15, 21, -1, 0.2, 4e-3),
			Modulations: []Modulation{{Period: 300, PeakToPeak: 0.2e-3, Phase: 120}},
		},
		Sound: Sound{TockLevel: -4},
		Room: Room{
			Noise:    "pink",
			SNR:      28,
			HumHz:    50,
			HumLevel: -30,
			Sounds: []RoomSound{
				{Kind: "slam", Occasion: Occasion{At: 706}, Level: 8},
				{Kind: "lorry", Occasion: Occasion{At: 1120}, Level: 3},
			},
		},
		Recorder: Recorder{SampleRate: 24000},
	}
}
