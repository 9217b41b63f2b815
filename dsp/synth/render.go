package synth

import (
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"rundown/dsp/wavio"
)

// chunk is how many frames are made at a time.
const chunk = 4096

// converterLevel is the RMS of what a dead channel carries, dB above full scale.
const converterLevel = -93

// source renders a recording, chunk by chunk.
type source struct {
	rec    Recording
	format wavio.Format
	frames int64 // that the clock takes; more than are recorded, where some are cut
	pos    int64 // of them, those made

	truth       *groundTruth
	pending     *Beat // next beat, not yet sounding
	instruments []*instrument
	contacts    *rand.Rand
	shots       shots // of the movement, sounding or about to
	peak        float64

	passings  []passing
	heard     []*sounding
	lapses    []lapse
	noise     []texture
	noiseGain []float32
	hum       *hum
	humGain   float32
	reference *reference
	converter *white

	movement, room, scratch []float32
	out                     [][]float32 // finished samples, by channel
	ready, used             int
}

// sounding is a passing while it is heard.
type sounding struct {
	passing
	texture texture
	gain    float32
	at      int64 // next frame
	end     int64
}

// Render returns the recording's sound.
func (r Recording) Render() wavio.Source {
	r = r.withDefaults()
	s := &source{
		rec:       r,
		converter: newWhite(r.Seed, uint64(noiseStream)+1<<17),
		frames:    int64(r.Recorder.frame(r.Duration)),
		truth:     newGroundTruth(r),
		contacts:  stream(r.Seed, contactStream),
		peak:      decibels(r.Recorder.PeakLevel),
		passings:  r.Room.passings(r.Seed, r.Duration),
		lapses:    r.Recorder.lapses(r.Seed, r.Duration),
		movement:  make([]float32, chunk),
		room:      make([]float32, chunk),
		scratch:   make([]float32, chunk),
	}
	rate := float64(r.Recorder.SampleRate)
	for c := range r.Recorder.Channels {
		noise, gain := r.Room.noise(r.Seed, c, s.peak, rate)
		s.noise = append(s.noise, noise)
		s.noiseGain = append(s.noiseGain, gain)
		s.out = append(s.out, make([]float32, chunk))
	}
	if r.Room.HumHz > 0 {
		s.hum = newHum(r.Seed, uint64(noiseStream)+1<<16, r.Room.HumHz, rate)
		s.humGain = float32(s.peak * decibels(r.Room.HumLevel))
	}
	if r.Recorder.Reference.Hz > 0 {
		s.reference = newReference(r.Recorder, r.Seed)
	}
	s.format = wavio.Format{
		SampleRate:    r.Recorder.SampleRate,
		Channels:      r.Recorder.Channels,
		BitsPerSample: r.Recorder.Bits,
		Float:         r.Recorder.Float,
		Frames:        s.frames,
	}
	for _, l := range s.lapses {
		if l.kind == "cut" {
			s.format.Frames -= min(l.to, s.frames) - min(l.from, s.frames)
		}
	}
	s.tune()
	s.advance()
	return s
}

// tune builds one instrument for each place of the microphone.
func (s *source) tune() {
	m := s.rec.Movement
	if m.Absent {
		return
	}
	lift := m.liftTime(m.Mainspring.Full, 2*m.Interval())
	add := func() {
		n := len(s.instruments)
		s.instruments = append(s.instruments, newInstrument(s.rec.Sound, s.rec.Seed, n, lift, float64(s.rec.Recorder.SampleRate)))
	}
	add()
	for _, l := range s.lapses {
		if l.kind == "moved" {
			add()
		}
	}
}

func (s *source) Format() wavio.Format { return s.format }

func (s *source) Problems() []string { return nil }

func (s *source) Read(dst [][]float32) (frames int, err error) {
	want := 0
	for _, d := range dst {
		want = max(want, len(d))
	}
	for frames < want {
		if s.used == s.ready && !s.make() {
			break
		}
		n := min(want-frames, s.ready-s.used)
		for c, d := range dst {
			if d != nil {
				copy(d[frames:], s.out[c][s.used:s.used+n])
			}
		}
		s.used += n
		frames += n
	}
	if frames == 0 {
		return 0, io.EOF
	}
	return frames, nil
}

// make renders chunks until one has frames that are not cut; false at the end.
func (s *source) make() bool {
	for s.pos < s.frames {
		n := int(min(chunk, s.frames-s.pos))
		s.render(n)
		s.pos += int64(n)
		s.used = 0
		if s.ready > 0 {
			return true
		}
	}
	return false
}

// render makes the next n frames that the clock takes.
func (s *source) render(n int) {
	s.play(s.movement[:n])
	s.surround(s.room[:n])
	for c := range s.out {
		s.channel(c, s.out[c][:n])
	}
	s.befall(n)
	s.ready = n
	for i := len(s.lapses) - 1; i >= 0; i-- {
		if l := s.lapses[i]; l.kind == "cut" {
			s.cut(l)
		}
	}
	for c := range s.out {
		s.rec.Recorder.quantise(s.out[c][:s.ready])
	}
}

// within returns the part of the chunk at hand that lies from frame a to b.
func (s *source) within(a, b int64, n int) (from, to int) {
	clip := func(x int64) int { return int(min(max(x-s.pos, 0), int64(n))) }
	return clip(a), clip(b)
}

// cut takes a lapse's frames out of the chunk.
func (s *source) cut(l lapse) {
	from, to := s.within(l.from, l.to, s.ready)
	if from == to {
		return
	}
	for c := range s.out {
		copy(s.out[c][from:], s.out[c][to:s.ready])
	}
	s.ready -= to - from
}

// play renders the movement alone.
func (s *source) play(dst []float32) {
	clear(dst)
	end := s.pos + int64(len(dst))
	for s.pending != nil && s.begins(s.pending) < float64(end) {
		s.strike(*s.pending)
		s.advance()
	}
	s.shots.add(dst, s.pos)
}

// begins returns a frame before the first sample of a beat's sound.
func (s *source) begins(b *Beat) float64 {
	early := b.Lift/2 + 8*s.rec.Sound.ContactScatter
	return s.rec.Recorder.frame(b.Time-early) - lead - 1
}

// advance fetches the next beat.
func (s *source) advance() {
	s.pending = nil
	if b, ok := s.truth.next(); ok {
		s.pending = &b
	}
}

// strike puts a beat's contacts, and the sounds that were added after it, among
// the shots.
func (s *source) strike(b Beat) {
	in, gain := s.instrument(b.Time)
	gain *= s.peak
	side := sideOf(b.Tock)
	for i, w := range in.waves[side] {
		at := b.Time + in.places[side][i]*b.Lift
		if scatter := s.rec.Sound.ContactScatter; scatter > 0 {
			at += scatter * s.contacts.NormFloat64()
		}
		if b.Audible {
			s.shots = append(s.shots, w.at(s.rec.Recorder.frame(at), gain*in.gain[side]*decibels(b.Level)))
		}
	}
	for _, e := range s.truth.run.events {
		if e.Kind == "extra" {
			shot := in.waves[side][2].at(s.rec.Recorder.frame(e.Start), gain*in.single[side]*decibels(e.Level))
			s.shots = append(s.shots, shot)
		}
	}
	s.truth.run.events = s.truth.run.events[:0]
}

// instrument returns the sound at a true time, and its gain.
func (s *source) instrument(t float64) (*instrument, float64) {
	n, gain := 0, 1.0
	position := 0
	for _, l := range s.lapses {
		if l.kind != "moved" {
			continue
		}
		n++
		if t >= l.start && t < l.end {
			position, gain = n, decibels(l.level)
		}
	}
	return s.instruments[position], gain
}

// surround renders what the room adds to all channels alike.
func (s *source) surround(dst []float32) {
	clear(dst)
	end := s.pos + int64(len(dst))
	if s.hum != nil {
		tmp := s.scratch[:len(dst)]
		s.hum.fill(tmp)
		for i, v := range tmp {
			dst[i] += s.humGain * v
		}
	}
	clock := s.rec.Recorder
	for len(s.passings) > 0 && int64(clock.frame(s.passings[0].start)) < end {
		p := s.passings[0]
		s.passings = s.passings[1:]
		h := &sounding{passing: p, at: int64(clock.frame(p.start)), end: int64(clock.frame(p.end))}
		h.texture, h.gain = p.open(s.peak, float64(clock.SampleRate))
		s.heard = append(s.heard, h)
	}
	for _, h := range s.heard {
		h.add(dst, s.pos, s.scratch, clock)
	}
	s.heard = slices.DeleteFunc(s.heard, func(h *sounding) bool { return h.end <= end })
}

// add adds to dst, whose first sample is frame start, what is heard within it.
func (h *sounding) add(dst []float32, start int64, scratch []float32, clock Recorder) {
	from, to := h.at-start, min(h.end-start, int64(len(dst)))
	if from >= to {
		return
	}
	tmp := scratch[:to-from]
	h.texture.fill(tmp)
	length := float64(h.end) - clock.frame(h.start)
	for i, v := range tmp {
		gain := h.gain
		if !h.own {
			gain *= float32(h.shape((float64(h.at+int64(i)) - clock.frame(h.start)) / length))
		}
		dst[from+int64(i)] += gain * v
	}
	h.at += to - from
}

// channel mixes channel c.
func (s *source) channel(c int, dst []float32) {
	if s.noise[c] != nil {
		s.noise[c].fill(dst)
		for i := range dst {
			dst[i] *= s.noiseGain[c]
		}
	} else {
		clear(dst)
	}
	if s.reference != nil && c == s.rec.Recorder.Reference.Channel-1 {
		s.reference.add(dst, s.pos)
		return
	}
	gain := float32(1)
	if c != s.rec.Recorder.Channel-1 {
		gain = 0
		if s.rec.Recorder.Leak != 0 {
			gain = float32(decibels(s.rec.Recorder.Leak))
		}
	}
	for i := range dst {
		dst[i] += gain*s.movement[i] + s.room[i]
	}
}

// befall lets the recorder's faults, save cuts, spoil the n frames at hand.
func (s *source) befall(n int) {
	for _, l := range s.lapses {
		from, to := s.within(l.from, l.to, n)
		if from == to {
			continue
		}
		for c := range s.out {
			part := s.out[c][from:to]
			switch {
			case l.kind == "zeros":
				clear(part)
			case l.kind == "gain":
				scale(part, float32(decibels(l.level)))
			case l.kind == "dead" && c == s.rec.Recorder.Channel-1:
				s.converter.fill(part)
				scale(part, float32(decibels(converterLevel)))
			}
		}
	}
}

func scale(x []float32, gain float32) {
	for i := range x {
		x[i] *= gain
	}
}

// quantise rounds samples to what the recorder can store, and limits them.
func (r Recorder) quantise(x []float32) {
	if r.Float {
		return
	}
	full := float32(int64(1) << (r.Bits - 1))
	for i, v := range x {
		v = float32(math.RoundToEven(float64(v * full)))
		x[i] = min(max(v, -full), full-1) / full
	}
}
