package beat

import (
	"fmt"
	"io"
	"math"
	"slices"

	"rundown/analysis/acquisition"
	"rundown/analysis/recorder"
	"rundown/dsp/wavio"
)

// How much of a recording, in seconds, is heard at once to find a beat in it: at
// first little, which serves if it holds many beats, then more, and most where that
// holds nothing, or the count is in doubt.
const (
	glanceSeconds  = 30
	stretchSeconds = 60
	doubtSeconds   = 120
	manyBeats      = 60
)

// second is a second of frames in whole blocks.
func (f *follower) second() int { return int(f.rate) / f.block * f.block }

// span is how many frames to survey at once: so many seconds in whole pieces, and
// no more than memory has room for, 7 million samples.
func (f *follower) span(seconds int) int {
	n := 0
	for _, c := range f.channels {
		if c != nil {
			n++
		}
	}
	return min(seconds*f.second(), 7_000_000/n) / f.block * f.block
}

// Stretches are searched whatever they sound like: as many as are thorough, and one
// whenever so many times as much was heard as up to the last that was. Between them, those
// that promise more than all that held nothing: of n alike, about the logarithm of n do. So
// sound without a beat takes little more than reading it, and a beat that is no clearer
// than the room around it begins late by no more than half of what was heard.
const (
	thorough = 2
	heardOut = 2
)

// find reads on until a stretch holds a beat, or to the end.
func (f *follower) find() error {
	doubtful := true
	if f.span(glanceSeconds) < f.span(stretchSeconds) {
		var err error
		if doubtful, err = f.tryAt(glanceSeconds, true); err != nil {
			return err
		}
	}
	promised, searched := 0.0, int64(0) // the most of what held nothing; up to where
	for try := 0; f.tracker == nil && !f.ended; try++ {
		if try > 0 {
			f.moveOn()
		}
		seconds := stretchSeconds
		if !doubtful { // what held nothing at a glance seldom does in twice that time
			seconds, doubtful = doubtSeconds, true
		}
		if err := f.fill(f.span(seconds)); err != nil {
			return err
		}
		promise := f.promise()
		// The last one may be short, and is worth the time.
		if try >= thorough && !f.ended && promise <= promised && float64(f.frames) < heardOut*float64(searched) {
			continue
		}
		promised, searched = max(promised, promise), f.frames
		unsure, err := f.tryAt(seconds, seconds < doubtSeconds)
		nothing := try == 0 && f.tracker == nil && f.span(seconds) < f.span(doubtSeconds)
		if (unsure || nothing) && err == nil && !f.ended {
			_, err = f.tryAt(doubtSeconds, false)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// tryAt looks for a beat in the stretch, so many seconds long. If there may be a
// longer one, a doubtful beat is left for that.
func (f *follower) tryAt(seconds int, longer bool) (doubtful bool, err error) {
	if err := f.fill(f.span(seconds)); err != nil {
		return false, err
	}
	return f.acquire(longer && !f.ended)
}

// moveOn drops the stretch.
func (f *follower) moveOn() {
	f.first = f.frames
	for c, x := range f.channels {
		if x != nil {
			f.channels[c] = x[:0]
		}
	}
}

// promise is how clearly something comes evenly at the end of the stretch.
func (f *follower) promise() (most float64) {
	const seconds = 12
	for _, x := range f.channels {
		if x != nil {
			most = max(most, acquisition.Promise(x[max(0, len(x)-seconds*f.second()):], f.rate))
		}
	}
	return most
}

// fill reads frames until there are n of them, or to the end.
func (f *follower) fill(n int) error {
	buf := make([][]float32, len(f.channels))
	// Room for all of them at once, and no more: to grow would take half as much again.
	for c, x := range f.channels {
		if x != nil && cap(x) < n {
			f.channels[c] = append(make([]float32, 0, n), x...)
		}
	}
	for {
		have := int(f.frames - f.first)
		if have >= n || f.ended {
			return nil
		}
		if err := f.ctx.Err(); err != nil {
			return err
		}
		want := min(n-have, f.second())
		for c, x := range f.channels {
			if x != nil {
				f.channels[c] = x[:have+want]
				buf[c] = f.channels[c][have:]
			}
		}
		got, err := readFull(f.src, buf, want)
		for c, x := range f.channels {
			if x != nil {
				f.channels[c] = x[:have+got]
			}
		}
		f.frames += int64(got)
		for c, x := range f.channels {
			if x != nil {
				f.sound.Add(x[have : have+got])
				f.zeros[c].Add(wavio.Floats(x[have:have+got]), nil)
			}
		}
		f.progress()
		if err == io.EOF {
			f.ended = true
		} else if err != nil {
			return err
		}
	}
}

// acquire looks for a beat in the stretch, and sets the tracker on it. A doubtful
// one, or one of few beats, is left for a longer stretch if there will be one.
func (f *follower) acquire(longer bool) (doubtful bool, err error) {
	turn := f.sound.Turn
	f.sound.Turn = 0
	best := -1
	for c, x := range f.channels {
		// Of one microphone, a recorder often makes two channels.
		same := func(y []float32) bool { return slices.Equal(x, y) }
		if x == nil || slices.ContainsFunc(f.channels[:c], same) {
			continue
		}
		h := f.detect(x)
		if err := f.ctx.Err(); err != nil {
			return false, err
		}
		if h != nil && (f.found == nil || h.Clear > f.found.Clear) {
			best, f.found = c, h
		}
	}
	if best < 0 {
		if heard := float64(f.frames-f.first) / f.rate; heard < 2*turn+acquisition.LeastTurn && f.sound.Turn == 0 {
			f.sound.Turn = turn // too little to tell that it goes round no more
		}
		return false, nil
	}
	x := f.channels[best]
	if beats := 2 * float64(len(x)) / f.found.Period; longer && (beats < manyBeats || f.found.Odds < sure) {
		f.found = nil
		return true, nil
	}
	e := learn(x, f.rate, f.found, nil)
	if !e.believable() {
		f.found = nil
		return longer, nil
	}
	seconds := 0
	if !f.opt.Prompt {
		e, seconds = f.choose(best, x, e)
	}
	f.track(best, e, seconds)
	if f.opt.Found != nil {
		return false, f.opt.Found(e.period / f.rate)
	}
	return false, nil
}

// detect looks for a beat in one channel. Of sound that goes round and round,
// one turn is all the evidence, but that of clicks that were made.
func (f *follower) detect(x []float32) *acquisition.Hypothesis {
	opt := acquisition.Options{}
	if f.opt.Nominal > 0 {
		opt.Period = 7200 / f.opt.Nominal * f.rate
	}
	l := acquisition.FindLoop(x, f.rate, f.block)
	if !l.Repeated() {
		return acquisition.Find(f.ctx, x, f.rate, opt)
	}
	f.sound.Turn = max(f.sound.Turn, float64(l.Frames)/f.rate)
	if h := acquisition.Find(f.ctx, x[:l.Frames], f.rate, opt); h != nil || !l.Sparse() {
		return h
	}
	h := acquisition.Find(f.ctx, x, f.rate, opt)
	if h == nil || !l.Brief(h.Period, f.rate) {
		return nil
	}
	f.sound.Turn = 0
	return h
}

// sure is the logarithm of the odds from which on a count is given without a
// word of doubt: 100 to 1.
const sure = 2

// doubts says where the count is doubtful.
func (f *follower) doubts() []string {
	var out []string
	perHour := func(period float64) float64 { return 7200 * f.rate / period }
	h := f.found
	switch {
	case h.Rival == 0:
	case h.Odds < sure && (halves(h.Rival, h.Period) || halves(h.Period, h.Rival)):
		out = append(out, fmt.Sprintf("The count of %.0f beats an hour is not certain: one side of the escapement may be too quiet to be heard, and %.0f are possible, at odds of 1 to %.3g; --bph or a train settles it, or a microphone closer to the movement.", perHour(h.Period), perHour(h.Rival), math.Pow(10, h.Odds)))
	case h.Odds < sure:
		out = append(out, fmt.Sprintf("The count of %.0f beats an hour is not certain: %.0f are possible, at odds of 1 to %.3g; --bph or a train settles it, or a microphone closer to the movement.", perHour(h.Period), perHour(h.Rival), math.Pow(10, h.Odds)))
	}
	if n := f.opt.Nominal; n > 0 && math.Abs(perHour(f.found.Period)/n-1) > 0.02 {
		out = append(out, fmt.Sprintf("The sound contradicts the nominal count: %.0f beats an hour were heard, not %.0f.", perHour(f.found.Period), n))
	}
	return out
}

// halves tells whether a period is half of another.
func halves(a, b float64) bool { return math.Abs(a/b-0.5) < 0.01 }

// track sets the tracker on the beat that was found in a channel, and learned from its stretch or
// the given number of seconds after it.
func (f *follower) track(channel int, e *soundModel, seconds int) {
	f.channel = channel
	sound := wavio.Floats(f.channels[channel])
	t := newSampleBuffer(f.block, e.band, f.first, make(chan *wavio.Stored, 8))
	t.add(sound, roughEnergies(sound, e.band, f.block))
	f.tracker = newTracker(t, e, f)
	f.meter = recorder.NewMeter(f.rate)
	for x := f.channels[channel]; len(x) > 0; x = x[min(f.second(), len(x)):] {
		s := wavio.Floats(x[:min(f.second(), len(x))])
		f.tracker.seconds = append(f.tracker.seconds, f.meter.Take(s, roughEnergies(s, e.band, f.block)))
	}
	for _, s := range f.ahead[:seconds] {
		rough := roughEnergies(s, e.band, f.block)
		t.add(s, rough)
		f.zeros[channel].Add(s, rough)
		f.tracker.seconds = append(f.tracker.seconds, f.meter.Take(s, rough))
		f.frames += int64(s.Len())
	}
	f.tracker.begin()
	clear(f.ahead[:seconds]) // the buffer alone has them from now on
	f.channels, f.ahead = make([][]float32, len(f.channels)), f.ahead[seconds:]
}
