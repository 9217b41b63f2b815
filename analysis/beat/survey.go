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
func survey(channels []passage, rate, least float64, deep bool) (channel int, e *ear, s *shapes) {
	block := blockFrames(rate)
	var best []Cadence
	channel = -1
	for c, s := range channels {
		found := findCadences(s.bands, s.without, rate/float64(block), deep)
		if len(found) > 0 && (channel < 0 || found[0].LogP < best[0].LogP) {
			best, channel = found, c
		}
	}
	if channel < 0 {
		return -1, nil, nil
	}
	x, bands := channels[channel].x, channels[channel].bands
	// Where its sound is hard to learn by one band, it may be learned by another.
	for _, cad := range best[:min(len(best), learnTries)] {
		beats := 2 * float64(len(x)/block) / cad.Period
		if times := cad.Period / best[0].Period; beats < least || math.Abs(times-math.Round(times)) < 0.01*times && times > 1.5 {
			continue // too few beats, or not all of them
		}
		e, s = learn(x, rate, block, bands, cad, nil)
		if !e.believable() || e.alone && least > 0 {
			continue
		}
		single := cad.Alone && e.period > 0.75*cad.Period*float64(block)
		if single && max(e.voice[0].snr, e.voice[1].snr) < plain {
			continue
		}
		if (cad.Fold > 0 || beats > someBeats) && e.sigma > uneven*e.period {
			continue
		}
		return channel, e, s
	}
	return -1, nil, nil
}

// learnTries is by how many bands at most a beat is learned.
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
