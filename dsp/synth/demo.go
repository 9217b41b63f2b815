package synth

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
