package synth

import (
	"maps"
	"math/rand/v2"
	"slices"
)

// newRand returns the random numbers of a stream that is no purpose by itself.
func newRand(seed, s uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, s)) }

// opener opens a sound of the room.
type opener func(seed, s uint64, rate float64) texture

// textures are the endless sounds of a room, by name.
var textures = map[string]opener{
	"white":      func(seed, s uint64, _ float64) texture { return newWhite(seed, s) },
	"pink":       func(seed, s uint64, rate float64) texture { return newPink(seed, s, rate) },
	"brown":      func(seed, s uint64, rate float64) texture { return newBrown(seed, s, rate) },
	"hum":        func(seed, s uint64, rate float64) texture { return newHum(seed, s, 50, rate) },
	"rain":       newRain,
	"fire":       newFire,
	"waves":      newWaves,
	"speech":     newSpeech,
	"music":      newMusic,
	"dog":        newDog,
	"click":      newClick,
	"clicks":     newClicks,
	"helicopter": newHelicopter,
	"chainsaw":   newChainsaw,
	"knocks":     newKnocks,
	"footsteps":  newFootsteps,
	"drip":       newDrip,
}

// Textures returns the names of the endless sounds of a room, sorted.
func Textures() []string { return slices.Sorted(maps.Keys(textures)) }

// singles are the sounds that a room makes once, by name.
var singles = map[string]opener{
	"gust":  func(seed, s uint64, rate float64) texture { return newBrown(seed, s, rate) },
	"lorry": newLorry,
	"slam":  newSlam,
	"knock": newKnock,
}

// newTexture opens a texture or single sound. It panics on an unknown name.
func newTexture(kind string, seed, s uint64, rate float64) texture {
	open := textures[kind]
	if open == nil {
		open = singles[kind]
	}
	if open == nil {
		panic("synth: no sound is called " + kind)
	}
	return open(seed, s, rate)
}

// grown returns a buffer of n samples, reusing b's memory.
func grown(b []float32, n int) []float32 {
	if cap(b) < n {
		return make([]float32, n)
	}
	return b[:n]
}

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
