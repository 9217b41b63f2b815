package beat

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
	var best Cadence
	channel = -1
	for c, s := range channels {
		if cad, ok := findCadence(s.bands, s.without, rate/float64(block), deep); ok && (channel < 0 || cad.LogP < best.LogP) {
			best, channel = cad, c
		}
	}
	if channel < 0 {
		return -1, nil, nil
	}
	x, bands := channels[channel].x, channels[channel].bands
	if 2*float64(len(x)/block)/best.Period < least {
		return -1, nil, nil
	}
	e, s = learn(x, rate, block, bands, best, nil)
	if !e.believable() || e.alone && least > 0 {
		return -1, nil, nil
	}
	return channel, e, s
}
