package beat

import (
	"io"
	"slices"

	"rundown/dsp/wavio"
)

// How much of a recording, in seconds, is heard at once to find a beat in it: at
// first little, which serves if it holds many beats, then more.
const (
	glanceSeconds  = 30
	stretchSeconds = 120
	manyBeats      = 100
)

// second is a second of frames in whole blocks.
func (f *follower) second() int { return int(f.rate) / f.block * f.block }

// stretch is how many frames to survey at once: whole pieces, and no more than
// memory has room for, 10 million samples.
func (f *follower) stretch() int {
	n := 0
	for _, c := range f.channels {
		if c != nil {
			n++
		}
	}
	return min(stretchSeconds*f.second(), 10_000_000/n) / (pieces * f.block) * pieces * f.block
}

// deepTries is in how many stretches a beat deep in the noise is looked for.
const deepTries = 3

// pieces is how many pieces a stretch has; it moves on by one of them.
const pieces = 4

// find reads on until a stretch holds a beat, or to the end.
func (f *follower) find() error {
	s := newSearcher(f)
	if short := glanceSeconds * f.second(); short < f.stretch() {
		if err := s.read(short); err != nil {
			return err
		}
		least := manyBeats
		if f.ended {
			least = 0
		}
		s.survey(float64(least), false)
	}
	for try := 0; f.tracker == nil && !f.ended; try++ {
		if try > 0 {
			s.moveOn()
		}
		if err := s.read(f.stretch()); err != nil {
			return err
		}
		// The last one may be short, and is worth the time.
		if try >= deepTries && !f.ended && !s.promising() {
			continue
		}
		s.survey(0, try < deepTries && f.frames-f.first > 45*int64(f.rate))
	}
	return nil
}

// searcher looks for a beat in what a follower reads.
type searcher struct {
	*follower
	listened []int // indices of the channels listened to
	hearings []*hearing
	echoes   []echoes
	without  [][]bool // of each channel, the bands in which nothing repeats; nil entries where that is not known
}

func newSearcher(f *follower) *searcher {
	s := &searcher{follower: f}
	for c, x := range f.channels {
		if x != nil {
			s.listened = append(s.listened, c)
			s.hearings = append(s.hearings, newHearing(f.rate))
		}
	}
	s.echoes = make([]echoes, len(s.listened))
	s.without = make([][]bool, len(s.listened))
	return s
}

// read reads on until the stretch is of n frames, or to the end, and listens.
func (s *searcher) read(n int) error {
	if err := s.fill(n); err != nil {
		return err
	}
	for i, c := range s.listened {
		s.hearings[i].listen(s.channels[c])
		s.without[i] = nil
	}
	return nil
}

// piece is how many blocks make a piece of a stretch.
func (s *searcher) piece() int { return s.stretch() / pieces / s.block }

// moveOn drops the first piece of the stretch.
func (s *searcher) moveOn() {
	drop := s.piece() * s.block
	for i, c := range s.listened {
		x := s.channels[c]
		s.channels[c] = x[:copy(x, x[drop:])]
		s.hearings[i].forget(s.piece())
	}
	s.first += int64(drop)
}

// promising tells whether anything repeats in the stretch, and so whether it is
// worth a survey.
func (s *searcher) promising() bool {
	any := false
	for i, h := range s.hearings {
		e := &s.echoes[i]
		for p := min(len(e.pieces), pieces-1); p < pieces; p++ {
			e.add(between(h.bands, p*s.piece(), (p+1)*s.piece()), h.perSecond())
		}
		s.without[i] = e.without(h.perSecond())
		any = any || slices.Contains(s.without[i], false)
	}
	return any
}

// fill reads frames until there are n of them, or to the end.
func (f *follower) fill(n int) error {
	buf := make([][]float32, len(f.channels))
	// Room for the whole stretch at once: to grow would take half as much again.
	for c, x := range f.channels {
		if x != nil {
			f.channels[c] = slices.Grow(x, f.stretch()-len(x))
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
		for _, x := range f.channels {
			if x != nil {
				f.sound.add(x[have : have+got])
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

// survey looks for a beat in the stretch, and sets the tracker on it.
func (s *searcher) survey(least float64, deep bool) {
	s.sound.turn = 0
	heard := make([]passage, len(s.listened))
	loops := make([]loop, len(s.listened))
	for i, c := range s.listened {
		heard[i] = passage{s.channels[c], s.hearings[i].bands, s.without[i]}
		loops[i] = findLoop(heard[i].x, s.rate, s.block)
	}
	if !slices.ContainsFunc(loops, loop.repeated) {
		s.track(survey(heard, s.rate, least, deep))
		return
	}
	turns := make([]passage, len(heard))
	for i, p := range heard {
		turns[i] = loops[i].turn(p, s.block)
		s.sound.turn = max(s.sound.turn, float64(loops[i].frames)/s.rate)
	}
	s.track(survey(turns, s.rate, 0, false)) // there is no more to hear
	for i, l := range loops {
		if s.tracker == nil && l.sparse() {
			if _, e := survey(heard[i:i+1], s.rate, 0, false); e != nil && l.brief(e) {
				s.sound.turn = 0
				s.track(i, e)
			}
		}
	}
}

// track sets the tracker on the beat that was found in one of the channels
// listened to. The ear is nil where there is none.
func (s *searcher) track(i int, e *ear) {
	if e == nil {
		return
	}
	f := s.follower
	f.channel = s.listened[i]
	sound := wavio.Floats(f.channels[f.channel])
	t := newTape(f.block, e.band, f.first, make(chan *wavio.Stored, 8))
	t.add(sound, glance(sound, e.band, f.block))
	f.channels = make([][]float32, len(f.channels))
	f.tracker = newTracker(t, e, f)
}
