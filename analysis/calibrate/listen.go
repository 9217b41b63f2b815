package calibrate

import (
	"context"
	"fmt"
	"io"
	"math"

	"rundown/dsp/wavio"
)

// Limits of the frequency of a reference, Hz. From LowestTone on it is a tone;
// below, it is a tick or a pulse. A tone may reach up to 0.45 of the sample
// rate.
const (
	LowestTick = 0.1
	LowestTone = 20
)

// Options are the settings of Listen.
type Options struct {
	Hz       float64            // frequency of the reference
	Channel  int                // that carries it, from 1; 0 takes the first
	Progress func(frames int64) // if not nil, told now and then how many frames were read
}

// Check tells what is wrong with the settings for a recording, as one line, nil
// if nothing.
func (o *Options) Check(f wavio.Format) error {
	if highest := 0.45 * float64(f.SampleRate); !(o.Hz >= LowestTick && o.Hz <= highest) {
		return fmt.Errorf("%g Hz: a reference has from %g Hz to 0.45 of the sample rate, here %g Hz", o.Hz, float64(LowestTick), highest)
	}
	if o.Channel < 0 || o.Channel > f.Channels {
		return fmt.Errorf("channel %d: the recording has %d", o.Channel, f.Channels)
	}
	return nil
}

// finder finds marks in a stream of frames.
type finder interface {
	append(x []float32, found func(Mark))
	flush(found func(Mark))
}

// Listen reads one channel of src to its end and returns the instants of the
// reference in it. The second result is false where there is too little of one.
// It panics where the settings do not pass Check; the error is the source's, or
// that of the context. Memory does not grow with the recording.
func Listen(ctx context.Context, src wavio.Source, opt Options) (*Series, bool, error) {
	f := src.Format()
	if err := opt.Check(f); err != nil {
		panic("calibrate: " + err.Error())
	}
	s := &Series{Hz: opt.Hz, SampleRate: float64(f.SampleRate), Tone: opt.Hz >= LowestTone}
	var find finder
	if s.Tone {
		find = newDemodulator(opt.Hz, s.SampleRate)
	} else {
		find = newTracker(opt.Hz, s.SampleRate)
	}
	planes := make([][]float32, f.Channels)
	block := make([]float32, 1<<15)
	planes[max(opt.Channel, 1)-1] = block
	for {
		if err := ctx.Err(); err != nil {
			return nil, false, err
		}
		n, err := src.Read(planes)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, false, err
		}
		find.append(block[:n], s.add)
		s.Frames += int64(n)
		if opt.Progress != nil {
			opt.Progress(s.Frames)
		}
	}
	find.flush(s.add)
	s.Expected = int64(math.Round(float64(s.Frames) / s.SampleRate / s.period()))
	return s, s.credible(), nil
}

// credible reports whether what was found can be a reference: enough marks, few
// of them missing where there are any, and far more regular than noise that
// happens to look like one.
func (s *Series) credible() bool {
	if len(s.marks) < FewestMarks {
		return false
	}
	present := float64(s.Frames) / s.SampleRate
	for _, l := range s.Lost() {
		present -= l.End - l.Start
	}
	if float64(s.Heard)*s.period() < 0.6*present {
		return false
	}
	kept, sigma := s.clean()
	return len(kept) >= FewestMarks && len(kept)*2 > len(s.marks) && sigma < 0.25*searchWindow
}
