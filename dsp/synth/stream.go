package synth

import "math/rand/v2"

// purpose names a stream of random numbers.
type purpose uint64

// One stream a purpose. A number that stands for a channel, or for the place
// of an entry in a list, is added to it.
const (
	jitterStream purpose = (iota + 1) << 32
	wanderStream
	startStream
	faultStream
	recurrenceStream
	loudnessStream
	contactStream
	modeStream
	noiseStream
	roomStream
	recorderStream
	referenceStream
	randomStream
)

// stream returns the random numbers that a seed holds for one purpose.
func stream(seed uint64, p purpose) *rand.Rand { return rand.New(rand.NewPCG(seed, uint64(p))) }
