package beat

import (
	"context"
	"errors"
	"fmt"
	"io"

	"rundown/analysis/acquisition"
	"rundown/analysis/contacts"
	"rundown/analysis/recorder"
	"rundown/dsp/filter"
	"rundown/dsp/wavio"
)

// MostChannels is among how many channels the one that carries the movement is
// looked for: of more, too little of each could be heard at once.
const MostChannels = 16

// Options are the settings of Follow. The zero value serves.
type Options struct {
	// Nominal is the nominal number of beats an hour, 0 where it is not known. A
	// faint beat is then found more easily, and its count told more surely.
	Nominal float64
	// Prompt takes the first stretch that serves to learn the beat's sound from, as in a recording
	// that is still being made: nothing is read ahead.
	Prompt  bool
	Channel int // channel that carries the movement, from 1; 0 takes that of the first MostChannels in which the beat is clearest
	// Clock turns a frame number, which may be fractional, into true seconds
	// since frame 0; nil divides by the nominal sample rate.
	Clock func(frame float64) float64
	// Found, if not nil, is told the period in seconds as soon as a beat is found,
	// and ends the work by an error.
	Found func(period float64) error
	// Progress, if not nil, is told now and then how many frames were read.
	Progress func(frames int64)
	// Clip, if not nil, is given the sound around an event, a few seconds at
	// the recording's sample rate, as soon as the event is known. The samples
	// are the callee's only until it returns. start is the true time of the
	// first of them in seconds.
	Clip func(ev Event, samples []float32, start float64)
}

// Report is what Follow knows at the end of a run.
type Report struct {
	Found    bool     // a beat was found; no batch is emitted where not
	Heard    string   // where none was found, what was heard instead, as one sentence
	Channel  int      // the channel analysed, from 1; 0 where none was chosen
	Frames   int64    // frames read
	Problems []string // what was wrong with the sound (clipping, lost samples, …), whole sentences
	// Period is the period of the oscillator, two beats, in true seconds, as
	// the tracker saw it last; 0 where no beat was found.
	Period float64
	// CountOdds is the logarithm to base ten of the odds against the next best
	// count.
	CountOdds float64
	Second    bool // another movement was within earshot
	// Sounds are the sounds by which the beats were found, one after the other: a
	// new one where they had to be learned anew.
	Sounds []Sounds
	// Zeros are the stretches in which the recorder wrote zeros, from the first of
	// them to the last, in order of time.
	Zeros []Stretch
	// Levels are those of each stretch of LevelSeconds from LevelsFrom on, true
	// seconds both.
	Levels       []recorder.Level
	LevelsFrom   float64
	LevelSeconds float64
}

// Stretch is a stretch of a recording in true seconds.
type Stretch struct{ Start, End float64 }

// Sounds are the sounds of the beats from one on.
type Sounds struct {
	From   int64 // number of the first beat found by them
	Stacks *contacts.Stacker
	Tick   int       // which of a block's sides is the tick's
	Room   []float64 // spectrum of the room, as onset.Shaping has it
	// Mistaken is that another sound of these beats than the one that was learned was
	// taken for their mark, until the right one was found.
	Mistaken bool
}

// Follow reads src to its end, finds every beat in it and calls emit with each
// finished stretch of results, in order; the batch is emit's only until it
// returns. Memory does not grow with the recording. An error is one of src's,
// of emit's, or that of the context; whatever was heard before it has been
// emitted, and the report is valid.
func Follow(ctx context.Context, src wavio.Source, opt Options, emit func(*Batch) error) (Report, error) {
	f := newFollower(ctx, src, opt, emit)
	err := f.find()
	if err == nil && f.tracker != nil {
		err = f.follow()
	}
	return f.report(), err
}

// follower is a run of Follow.
type follower struct {
	ctx      context.Context
	src      wavio.Source
	opt      Options
	emit     func(*Batch) error
	rate     float64
	block    int
	zeros    []*recorder.Zeros // by channel, nil where one is skipped
	channels [][]float32       // the stretch heard so far, while no beat is found; nil entries are skipped
	first    int64             // frame at which it starts
	frames   int64             // read so far
	ended    bool
	ahead    []*wavio.Stored // read after it to choose from
	failed   error           // what ended that
	channel  int             // index of the one that carries the movement
	tracker  *tracker
	meter    *recorder.Meter
	sound    acquisition.Sound
	found    *acquisition.Hypothesis // the beat, once it was found
	batch    Batch
}

func newFollower(ctx context.Context, src wavio.Source, opt Options, emit func(*Batch) error) *follower {
	format := src.Format()
	f := &follower{
		ctx: ctx, src: src, opt: opt, emit: emit,
		rate: float64(format.SampleRate), block: filter.BlockFrames(float64(format.SampleRate)),
		channels: make([][]float32, format.Channels), zeros: make([]*recorder.Zeros, format.Channels), channel: -1,
	}
	for c := range f.channels {
		if opt.Channel == 0 && c < MostChannels || opt.Channel == c+1 {
			f.channels[c] = []float32{}
			f.zeros[c] = recorder.NewZeros(f.rate, f.block)
		}
	}
	if f.opt.Clock == nil {
		f.opt.Clock = func(frame float64) float64 { return frame / f.rate }
	}
	return f
}

// follow tracks the beat from the stretch it was found in to the end.
func (f *follower) follow() error {
	t := f.tracker
	t.buffer.ended = f.ended && len(f.ahead) == 0
	ctx, stop := context.WithCancel(f.ctx)
	defer stop()
	next := f.readAhead(ctx)
	for {
		t.run()
		if t.buffer.ended {
			t.finish()
		}
		if err := f.deliver(); err != nil || t.buffer.ended {
			return err
		}
		c, ok := <-next
		switch {
		case !ok: // the reader gave up first
			return f.ctx.Err()
		case c.err != nil && !errors.Is(c.err, io.EOF):
			return c.err
		}
		t.buffer.add(c.sound, c.rough)
		t.zeros.Add(c.sound, c.rough)
		t.seconds = append(t.seconds, c.level)
		t.buffer.ended = c.err != nil
		f.frames += int64(c.sound.Len())
		f.progress()
	}
}

// deliver emits what is finished.
func (f *follower) deliver() error {
	if len(f.batch.Beats)+len(f.batch.Events) == 0 {
		return nil
	}
	err := f.emit(&f.batch)
	f.batch.Reset()
	return err
}

// chunk is a second of the recording, and how loud it is at a glance.
type chunk struct {
	sound *wavio.Stored
	rough []float32
	level recorder.Level
	err   error
}

// readAhead reads a second after the other on a goroutine of its own, a few
// ahead of the tracker. The last chunk is empty and carries io.EOF or an error.
func (f *follower) readAhead(ctx context.Context) <-chan chunk {
	out := make(chan chunk, 4)
	band, spare := f.tracker.model.band, f.tracker.buffer.spare
	go func() {
		defer close(out)
		for {
			s, err := f.read(spare)
			if s == nil {
				return
			}
			if err == nil {
				err = ctx.Err()
			}
			rough := roughEnergies(s, band, f.block)
			select {
			case out <- chunk{s, rough, f.meter.Take(s, rough), err}:
			case <-ctx.Done():
				return
			}
			if err != nil {
				return
			}
		}
	}()
	return out
}

// read returns the next second, of those read already first, nil where there is none; with the last
// one, io.EOF or an error.
func (f *follower) read(spare <-chan *wavio.Stored) (s *wavio.Stored, err error) {
	if len(f.ahead) > 0 {
		s, f.ahead[0] = f.ahead[0], nil // its memory is wanted again
		f.ahead = f.ahead[1:]
		switch {
		case len(f.ahead) > 0:
		case f.ended:
			err = io.EOF
		default:
			err = f.failed
		}
		return s, err
	}
	if f.ended {
		return nil, io.EOF
	}
	select {
	case s = <-spare:
	default:
		s = new(wavio.Stored)
	}
	_, err = wavio.Store(f.src, s, f.channel, f.second())
	return s, err
}

func (f *follower) report() Report {
	r := Report{Found: f.tracker != nil, Frames: f.frames}
	if f.tracker == nil {
		for _, x := range f.channels {
			if x != nil {
				r.Heard = f.sound.Instead(x, f.rate)
				break
			}
		}
	} else {
		t := f.tracker
		r.Channel = f.channel + 1
		r.Period = t.clock(t.model.period) - t.clock(0)
		r.Sounds = t.models()
		r.Levels, r.LevelsFrom = t.seconds, t.clock(float64(f.first))
		r.LevelSeconds = t.clock(float64(f.second())) - t.clock(0)
		for _, z := range t.zeros.Spans() {
			r.Zeros = append(r.Zeros, Stretch{t.clock(float64(z.From)), t.clock(float64(z.To))})
		}
		r.CountOdds = f.found.Odds
		r.Second = t.rival.beats > 0
		r.Problems = append(f.doubts(), t.problems()...)
		if f.sound.Turn > acquisition.LeastTurn {
			r.Problems = append(r.Problems, fmt.Sprintf("The same %.2f s of sound go round and round, to the sample: the results are those of that stretch, over and over.", f.sound.Turn))
		}
	}
	return r
}

func (f *follower) progress() {
	if f.opt.Progress != nil {
		f.opt.Progress(f.frames)
	}
}

// readFull reads n frames into planar buffers of that length, or fewer and
// io.EOF at the end.
func readFull(src wavio.Source, dst [][]float32, n int) (int, error) {
	part := make([][]float32, len(dst))
	got := 0
	for got < n {
		for c, x := range dst {
			if x != nil {
				part[c] = x[got:n]
			}
		}
		k, err := src.Read(part)
		got += k
		if err != nil {
			return got, err
		}
	}
	return got, nil
}
