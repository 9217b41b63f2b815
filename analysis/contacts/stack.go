package contacts

import "math"

// Stack is the mean sound of some beats of one side, laid over each other at
// their marks.
type Stack struct {
	Time  float64 // mean instant of the beats, frames
	Beats int
	// Sound is the mean; its sample Pre of the Stacker that made it lies at the
	// mark, less Late.
	Sound []float32
	Late  float64 // frames by which the marks came after the sample they were laid at, in the mean
}

// Block is a stretch of the run, with a stack of either side.
type Block struct {
	Sides [2]Stack
	first float64 // frames
	last  float64
}

// memory bounds the sound that a Stacker keeps, in bytes.
const memory = 24 << 20

// leastBeats is how many beats of each side a block has at least: with fewer, a
// single one that was disturbed is all there is.
const leastBeats = 4

// Stacker lays beats over each other. It keeps blocks as short as its memory
// allows, so that the sounds do not move within one: when there are too many,
// neighbours are joined, the latest ones excepted, since a movement changes
// fastest before it stops.
type Stacker struct {
	Pre, Post int // frames of sound kept before the mark, and from it on

	blocks []Block
	most   int     // blocks
	least  float64 // frames that a joined block lasts at least
	open   Block
	every  int // of how many plain beats one is taken
	joins  int // how often least was doubled
	turn   [2]int
	beats  [2]int
	energy [2]level
}

// NewStacker returns an empty one for beats of which it keeps so many frames
// before and after the mark.
func NewStacker(pre, post int) *Stacker {
	s := &Stacker{Pre: pre, Post: post, most: max(16, memory/8/(pre+post)), every: 1}
	s.begin()
	return s
}

func (s *Stacker) begin() {
	s.open = Block{first: math.NaN()}
	for i := range s.open.Sides {
		s.open.Sides[i].Sound = make([]float32, s.Pre+s.Post)
	}
}

// plainSNR is the signal-to-noise ratio of a beat's clearest sound from which a few
// beats of a block tell as much as all of them.
const plainSNR = 25

// longRun is how often the length of blocks has doubled from which some beats of a
// block are enough: in a run of an hour all are taken.
const longRun = 1

// Wants reports whether the next beat of a side, of which the clearest sound has
// a signal-to-noise ratio, is to be added: where beats are plain, and so many that
// blocks are joined, some are enough. It counts the beats.
func (s *Stacker) Wants(side int, snr float64) bool {
	s.turn[side]++
	return snr < plainSNR || s.turn[side]%s.every == 0
}

// Add lays a beat over the others. x holds Pre frames before the whole frame
// next below its mark, and Post from there on; late is the rest of the mark's
// frame. A sound far louder than the beats before it is left out.
func (s *Stacker) Add(side int, mark float64, x []float32) {
	if !s.energy[side].usual(power(x)) {
		return
	}
	st := &s.open.Sides[side]
	if math.IsNaN(s.open.first) {
		s.open.first = mark
	}
	s.open.last = mark
	st.Time += mark
	st.Late += mark - math.Floor(mark)
	st.Beats++
	s.beats[side]++
	sum := st.Sound[:len(x)]
	for i, v := range x {
		sum[i] += v
	}
	if min(s.open.Sides[0].Beats, s.open.Sides[1].Beats) >= leastBeats {
		s.close()
	}
}

// Break ends the block that is being filled: what follows is not to be laid over
// what came before.
func (s *Stacker) Break() {
	if s.open.Sides[0].Beats+s.open.Sides[1].Beats > 0 {
		s.close()
	}
}

func (s *Stacker) close() {
	for i := range s.open.Sides {
		st := &s.open.Sides[i]
		if n := float64(st.Beats); n > 0 {
			st.Time /= n
			st.Late /= n
			scale := float32(1 / n)
			for k := range st.Sound {
				st.Sound[k] *= scale
			}
		}
	}
	s.blocks = append(s.blocks, s.open)
	if len(s.blocks) >= s.most {
		s.join()
	}
	s.begin()
}

// join joins neighbours, but for the latest quarter, until an eighth of the
// blocks is free.
func (s *Stacker) join() {
	for len(s.blocks) > s.most*7/8 {
		old := s.blocks[:len(s.blocks)*3/4]
		if s.least == 0 {
			s.least = 2 * (old[0].last - old[0].first)
		}
		kept := old[:0]
		for i := 0; i < len(old); i++ {
			b := old[i]
			if i+1 < len(old) && old[i+1].last-b.first <= s.least {
				b = joined(b, old[i+1])
				i++
			}
			kept = append(kept, b)
		}
		s.blocks = append(kept, s.blocks[len(old):]...)
		if len(s.blocks) > s.most*7/8 {
			s.least *= 2
			if s.joins++; s.joins > longRun {
				s.every *= 2
			}
		}
	}
}

// joined lays b over a, in the memory of a.
func joined(a, b Block) Block {
	for i := range a.Sides {
		p, q := &a.Sides[i], &b.Sides[i]
		n := float64(p.Beats + q.Beats)
		if n == 0 {
			continue
		}
		u, v := float64(p.Beats)/n, float64(q.Beats)/n
		p.Time, p.Late = u*p.Time+v*q.Time, u*p.Late+v*q.Late
		p.Beats += q.Beats
		for k, y := range q.Sound {
			p.Sound[k] = float32(u)*p.Sound[k] + float32(v)*y
		}
	}
	a.last = b.last
	return a
}

// Beats returns how many beats of a side were laid over each other.
func (s *Stacker) Beats(side int) int { return s.beats[side] }

// Latest returns the mean sound of the latest beats of a side, at least so many
// where there have been so many, and how far into it the mark lies, in frames;
// nil before any block was filled.
func (s *Stacker) Latest(side, beats int) (sound []float64, mark float64) {
	var n float64
	for k := len(s.blocks) - 1; k >= 0 && n < float64(beats); k-- {
		st := &s.blocks[k].Sides[side]
		if sound == nil {
			sound = make([]float64, len(st.Sound))
		}
		for i, v := range st.Sound {
			sound[i] += float64(st.Beats) * float64(v)
		}
		mark += float64(st.Beats) * st.Late
		n += float64(st.Beats)
	}
	if n == 0 {
		return nil, 0
	}
	for i := range sound {
		sound[i] /= n
	}
	return sound, float64(s.Pre) + mark/n
}

// Blocks ends the block that is being filled and returns all, in order of time.
func (s *Stacker) Blocks() []Block {
	s.Break()
	return s.blocks
}

// level follows what energy is usual.
type level struct {
	usually float64
	n       int
}

// usual reports whether an energy is not far above those before it, and takes
// it in.
func (l *level) usual(e float64) bool {
	const far, memory = 4, 32
	l.n++
	limit := far * l.usually
	if l.n == 1 {
		l.usually, limit = e, math.Inf(1)
	}
	l.usually += (min(e, limit) - l.usually) / float64(min(l.n, memory))
	return e <= limit
}

func power(x []float32) float64 {
	var sum float32
	for i := 0; i < len(x); i += 2 {
		sum += x[i] * x[i]
	}
	return float64(sum)
}
