package beat

import "math"

// passage is a stretch of one channel, and how it sounds.
type passage struct {
	x       []float32 // samples
	bands   []Band
	without []bool // of each band, that there is no beat in it; nil where nothing is known
}

// survey looks for a beat in a stretch of one or more channels. Where there is
// one, it returns the channel's index and the ear that knows its sound. Where
// least is not 0, one of fewer beats is left for a longer stretch, and so is one
// of which only one side may have been heard. With deep, it takes its time.
func survey(channels []passage, rate, least float64, deep bool) (channel int, e *ear) {
	var found []Cadence
	channel = -1
	for c, p := range channels {
		cads := findCadences(p.bands, p.without, rate/float64(blockFrames(rate)), deep)
		if len(cads) > 0 && (channel < 0 || cads[0].LogP < found[0].LogP) {
			found, channel = cads, c
		}
	}
	found = found[:min(len(found), learnTries)]
	if channel >= 0 {
		if e = learnAny(channels[channel], rate, found, least, false); e != nil {
			return channel, e
		}
	}
	if !deep {
		return -1, nil
	}
	// What takes folding is heard better as sound than as loudness, if it is even
	// enough.
	periods := make([]float64, len(channels))
	for c, p := range channels {
		if periods[c], e = learnSteady(p.x, rate); e != nil {
			return c, e
		}
	}
	if channel < 0 {
		return -1, nil
	}
	e = learnAny(channels[channel], rate, found, least, true)
	if e != nil && periods[channel] > 0 {
		// Folding takes two sides that are alike for one; the ear may know better.
		times := e.period / periods[channel]
		if math.Abs(times-1) > 0.01 && (math.Abs(times-2) > 0.02 || e.alone) {
			return -1, nil // not at its count
		}
	}
	return channel, e
}

// learnAny learns by the first of the cadences that makes a beat of which to be
// sure; nil where there is none. It goes by those that took folding to find, or
// by the others.
func learnAny(p passage, rate float64, found []Cadence, least float64, folded bool) *ear {
	block := blockFrames(rate)
	for _, cad := range found {
		beats := 2 * float64(len(p.x)/block) / cad.Period
		if times := cad.Period / found[0].Period; beats < least || math.Abs(times-math.Round(times)) < 0.01*times && times > 1.5 {
			continue // too few beats, or not all of them
		}
		if folded != (cad.Fold > 0) {
			continue
		}
		e := learn(p.x, rate, block, p.bands, cad, nil)
		if !e.believable() || e.alone && least > 0 {
			continue
		}
		single := cad.Alone && e.period > 0.75*cad.Period*float64(block)
		if single && max(e.voice[0].snr, e.voice[1].snr) < plain {
			continue
		}
		if (folded || beats > someBeats) && e.sigma > uneven*e.period {
			continue
		}
		return e
	}
	return nil
}

// learnTries is by how many bands at most a beat is learned: where its sound is
// hard to learn by one, it may be learned by another.
const learnTries = 3

// uneven is by which part of the period beats scatter that are no escapement's:
// music keeps time to a hundredth, and so does a dripping tap. Of few beats, the
// scatter is too uncertain to say.
const (
	uneven    = 0.006
	someBeats = 60
)

// plain is the least signal-to-noise ratio of beats that are all alike for them
// to be of both sides: were they of one, the other one's would be heard, though
// they be some 10 dB weaker.
const plain = 15
