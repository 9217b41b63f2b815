package synth

// loop repeats a recording at the wanted rate, its end faded into its start.
type loop struct {
	samples []float32
	step    float64 // samples of the recording a frame
	pos     float64 // next sample, fractional
	fade    int     // samples at the end that are faded into those at the start
}

// newLoop starts at a random place of samples, which must not be empty.
func newLoop(samples []float32, from, to float64, seed, s uint64) *loop {
	l := &loop{samples: samples, step: from / to, fade: min(int(from/20), len(samples)/4)}
	l.pos = newRand(seed, s).Float64() * float64(len(samples)-l.fade)
	return l
}

func (l *loop) fill(dst []float32) {
	period := float64(len(l.samples) - l.fade)
	for i := range dst {
		whole := int(l.pos)
		part := float32(l.pos - float64(whole))
		a, b := l.at(whole), l.at(whole+1)
		dst[i] = a + part*(b-a)
		if l.pos += l.step; l.pos >= period {
			l.pos -= period
		}
	}
}

// at returns sample i of the loop; the first ones are mixed with the end.
func (l *loop) at(i int) float32 {
	period := len(l.samples) - l.fade
	if i >= period {
		i -= period
	}
	if i >= l.fade {
		return l.samples[i]
	}
	x := float32(i) / float32(l.fade)
	return x*l.samples[i] + (1-x)*l.samples[period+i]
}
