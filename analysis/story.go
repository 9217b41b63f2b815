package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/contacts"
	"rundown/analysis/rate"
	"rundown/analysis/sequence"
)

// story is what the tracker found, kept until all of it can be judged together:
// which instant of a beat its times stand for, and which shifts are for good.
// It takes some 60 bytes a beat, 9 MB in a night of 18 000 an hour.
type story struct {
	beats  []beat.Beat
	events []beat.Event
	marks  []rate.Mark
	turns  []sequence.Turn // what comes round with the escape wheel
	jitter float64         // of the sides that are timed, s
	noise  []beat.Side     // that were not: what was taken for their beats was noise
	// Sides that are timed in part of the run only.
	slipped []slipping
}

// batch takes a stretch of finished beats and events.
func (s *story) batch(b *beat.Batch) error {
	s.beats = append(s.beats, b.Beats...)
	s.events = append(s.events, b.Events...)
	return nil
}

// tell refers the beats to mid-lift where that can be told, and adds the shifts
// to the events. Sample rate and clock are those of the recording.
func (s *story) tell(opt Options, report beat.Report, sampleRate float64, clock func(frame float64) float64) {
	for _, v := range s.wellMarked(report.Sounds) {
		w := contacts.NewWhitener(v.Room, sampleRate)
		blocks := v.Stacks.Blocks()
		if v.Tick == 1 {
			for i := range blocks {
				blocks[i].Sides[0], blocks[i].Sides[1] = blocks[i].Sides[1], blocks[i].Sides[0]
			}
		}
		r := contacts.Read(blocks, v.Stacks.Pre, sampleRate, w, contacts.Limits{Period: report.Period, LiftAngle: opt.LiftAngle, LiftTime: opt.LiftTime, Crowded: report.Second}, clock)
		s.marks = append(s.marks, rate.Mark{Beat: v.From, From: s.timeOf(v.From), Reading: r})
	}
	if !s.refer() {
		for i := range s.marks {
			s.marks[i].Reading.Doubt = "by the sounds that were taken for it, beats would not follow each other"
		}
		s.refer()
	}
	s.slips()
	s.standStillToTheEnd(clock(float64(report.Frames)))
	if len(s.beats) > 0 {
		s.gaps(report.Zeros, clock(float64(report.Frames)))
	}
	s.shifts()
}

// wellMarked leaves out the first beats where they were marked by another sound than was
// meant, and returns the sounds by which the others were found.
func (s *story) wellMarked(sounds []beat.Sounds) []beat.Sounds {
	for len(sounds) > 1 && sounds[0].Mistaken {
		first := sounds[1].From
		if s.place(first) == len(s.beats) { // no beat was found by the others
			return sounds[:1]
		}
		flips := s.begin(first)
		sounds = slices.Clone(sounds[1:])
		for i := range sounds {
			sounds[i].From = max(0, sounds[i].From-first)
			if flips {
				sounds[i].Tick ^= 1
			}
		}
	}
	return sounds
}

// timeOf returns when a beat came, seconds.
func (s *story) timeOf(index int64) float64 {
	i := s.place(index)
	if i == len(s.beats) {
		return math.Inf(1)
	}
	return s.beats[i].Time
}

// place returns where among the beats that of an index is, or the first after it.
func (s *story) place(index int64) int {
	i, _ := slices.BinarySearchFunc(s.beats, index, func(b beat.Beat, at int64) int { return cmp.Compare(b.Index, at) })
	return i
}

// after returns where among the beats the first one from a time on is, seconds.
func (s *story) after(time float64) int {
	i, _ := slices.BinarySearchFunc(s.beats, time, func(b beat.Beat, at float64) int { return cmp.Compare(b.Time, at) })
	return i
}

// refer moves the times of the beats to mid-lift. Where they then followed each other no
// more, it leaves them as they are and returns false.
func (s *story) refer() bool {
	next := 0
	var r *contacts.Reading
	times := make([]float64, len(s.beats))
	for i, b := range s.beats {
		for next < len(s.marks) && (next == 0 || s.marks[next].From <= b.Time) {
			r = &s.marks[next].Reading
			next++
		}
		times[i] = b.Time
		if r != nil && r.Told() {
			times[i] += r.Mid(int(b.Side), b.Time)
		}
		if i > 0 && times[i] <= times[i-1] {
			return false
		}
	}
	for i, t := range times {
		s.beats[i].Time = t
	}
	return true
}

// A shift of a quarter of an interval or more among so many first beats is a sound
// that was taken for the movement before it was found.
const firstBeats = 40

// shifts tells what shifted for good, and adds it to the events.
func (s *story) shifts() {
	told := s.steps()
	if len(told.Steps) > 0 {
		if p := told.Steps[0]; p.Beat-s.beats[0].Index <= firstBeats && math.Abs(p.Shift) > s.interval()/4 {
			s.begin(p.Beat)
			told = s.steps()
		}
	}
	if s.standStill(told.Steps) {
		told = s.steps()
	}
	for side, scatter := range told.Scatter {
		if other := told.Scatter[1-side]; scatter > leastNoise && scatter > sidesDiffer*other {
			s.deafen(beat.Side(side))
			told = s.steps()
			break
		}
	}
	s.turns = told.Turns
	s.jitter = pooled(told.Scatter)
	inOrder := func(a, b beat.Event) int { return cmp.Compare(a.Start, b.Start) }
	slices.SortStableFunc(s.events, inOrder)
	var own []beat.Event
	for _, p := range told.Steps {
		if !s.bridge(p) {
			own = append(own, s.shift(p))
		}
	}
	s.events = append(s.events, own...)
	slices.SortStableFunc(s.events, inOrder)
}

// longSilence is for how many beats a movement that goes on is not silent, where its beats
// are heard as a rule.
const longSilence = 20

// standStill takes a long run of beats that were missed, after which the movement goes on
// out of its old place, for a standstill: that it then came within some hundredths of its
// old phase was chance. It reports whether there is one.
func (s *story) standStill(steps []sequence.Step) (any bool) {
	for k := len(steps) - 1; k >= 0; k-- { // later ones first: what comes after changes its number
		i := s.place(steps[k].Beat)
		last := i - 1
		for last >= 0 && !s.beats[last].Heard {
			last--
		}
		silent := int64(i - last - 1)
		if last < 0 || silent < longSilence || !s.missed(s.beats[last].Index, s.beats[i].Index) {
			continue
		}
		a, b, before := s.beats[last], s.beats[i], s.beats[max(0, last-longSilence)]
		interval := (a.Time - before.Time) / float64(max(1, a.Index-before.Index))
		s.events = slices.DeleteFunc(s.events, func(ev beat.Event) bool { return ev.Kind == beat.Missed && ev.Start > a.Time && ev.Start < b.Time })
		s.beats = slices.Delete(s.beats, last+1, i)
		for j := range s.beats[last+1:] {
			s.beats[last+1+j].Index -= silent
		}
		for j := range s.events {
			if ev := &s.events[j]; ev.Beat >= b.Index {
				ev.Beat -= silent
			}
		}
		for j := range s.marks {
			if m := &s.marks[j]; m.Beat >= b.Index {
				m.Beat -= silent
			}
		}
		s.events = append(s.events, beat.Event{Kind: beat.Stop, Beat: a.Index, Start: a.Time, End: b.Time, Shift: b.Time - a.Time - interval})
		any = true
	}
	return any
}

// standStillToTheEnd takes a long run of beats that were missed up to the end of the
// recording, in seconds, for a standstill.
func (s *story) standStillToTheEnd(end float64) {
	last := len(s.beats) - 1
	for last >= 0 && !s.beats[last].Heard {
		last--
	}
	if last < 1 || len(s.beats)-1-last < longSilence || !s.missed(s.beats[last].Index, s.beats[len(s.beats)-1].Index+1) {
		return
	}
	a := s.beats[last]
	s.events = slices.DeleteFunc(s.events, func(ev beat.Event) bool { return ev.Kind == beat.Missed && ev.Start > a.Time })
	s.beats = s.beats[:last+1]
	interval := a.Time - s.beats[last-1].Time
	s.events = append(s.events, beat.Event{Kind: beat.Stop, Beat: a.Index, Start: a.Time, End: end, Shift: end - a.Time - interval, Note: beat.ToTheEnd})
}

// missed reports whether a run of beats between two that were heard was missed, and
// nothing else hid it.
func (s *story) missed(from, to int64) bool {
	hidden, missed := false, false
	for _, ev := range s.events {
		if ev.Beat > from && ev.Beat < to {
			missed = missed || ev.Kind == beat.Missed
			hidden = hidden || ev.Kind == beat.Masked || ev.Kind == beat.Gap
		}
	}
	return missed && !hidden
}

// A side whose beats scatter by more than leastNoise, s, and by sidesDiffer times what the
// other's do was not heard: one balance makes both. Where it is heard, and another of its
// sounds is now and then taken for the one that marks it, it scatters by less.
const (
	leastNoise  = 2e-3
	sidesDiffer = 10
)

// deafen takes the beats of a side for not heard. The first beat that is heard is a tick.
func (s *story) deafen(side beat.Side) {
	for i := range s.beats {
		if s.beats[i].Side == side {
			s.beats[i].Heard = false
		}
	}
	first := slices.IndexFunc(s.beats, func(b beat.Beat) bool { return b.Heard })
	if first > 0 && s.begin(s.beats[first].Index) {
		side ^= 1
	}
	s.noise = append(s.noise, side)
}

// pooled returns the scatter of both sides, of those that have one, s.
func pooled(scatter [2]float64) float64 {
	var squares, n float64
	for _, v := range scatter {
		if !math.IsNaN(v) {
			squares, n = squares+v*v, n+1
		}
	}
	return math.Sqrt(squares / n)
}

// begin leaves out what came before a beat, which becomes number 0, and a tick. It
// reports whether ticks and tocks have changed their names.
func (s *story) begin(at int64) (flips bool) {
	i := slices.IndexFunc(s.beats, func(b beat.Beat) bool { return b.Index >= at })
	s.beats = s.beats[i:]
	first := s.beats[0].Index
	for i := range s.beats {
		s.beats[i].Index -= first
	}
	s.events = slices.DeleteFunc(s.events, func(ev beat.Event) bool { return ev.Beat < first && ev.Kind != beat.Gap })
	for i := range s.events {
		s.events[i].Beat = max(0, s.events[i].Beat-first)
	}
	for i := range s.marks {
		s.marks[i].Beat = max(0, s.marks[i].Beat-first)
	}
	if flips = s.beats[0].Side == beat.Tock; flips {
		for i := range s.beats {
			s.beats[i].Side ^= 1
		}
	}
	return flips
}

// steps tells the story of the beats.
func (s *story) steps() *sequence.Story {
	fresh := map[int64]bool{}
	for _, ev := range s.events {
		switch ev.Kind {
		case beat.Stop:
			fresh[ev.Beat+1] = true
		case beat.Gap:
			fresh[ev.Beat] = ev.Shift != 0
		}
	}
	for _, m := range s.marks[min(1, len(s.marks)):] {
		fresh[m.Beat] = true // another instant of the sound may be marked from here on
	}
	beats := make([]sequence.Beat, len(s.beats))
	renew := false
	for i, b := range s.beats {
		renew = renew || fresh[b.Index]
		beats[i] = sequence.Beat{Index: b.Index, Time: b.Time, SE: b.SE, Side: b.Side, Heard: b.Heard, Fresh: renew && b.Heard}
		renew = renew && !b.Heard
	}
	return sequence.Tell(beats)
}

// shift words a step as an event.
func (s *story) shift(p sequence.Step) beat.Event {
	at := s.timeOf(p.Beat)
	ev := beat.Event{Kind: beat.Late, Beat: p.Beat, Start: at - p.Shift, End: at, Shift: p.Shift}
	if p.Shift < 0 {
		ev.Kind, ev.Start, ev.End = beat.Early, at, at-p.Shift
	}
	if p.Shift < 0 || p.Shift > s.interval()/2 {
		ev.Note = "or the recorder lost samples: the sound does not tell"
	}
	return ev
}

// interval is the mean interval between beats, s.
func (s *story) interval() float64 {
	first, last := s.beats[0], s.beats[len(s.beats)-1]
	return (last.Time - first.Time) / float64(max(1, last.Index-first.Index))
}

// pass hands the story on, beats and events in order: an event no later than the
// first beat that it concerns.
func (s *story) pass(take func(*beat.Batch) error) error {
	const handful = 512
	next := 0
	for from := 0; from < len(s.beats) || next < len(s.events); from += handful {
		b := beat.Batch{Beats: s.beats[min(from, len(s.beats)):min(from+handful, len(s.beats))]}
		first := next
		for next < len(s.events) && (from+handful >= len(s.beats) || before(s.events[next], b.Beats[len(b.Beats)-1])) {
			next++
		}
		b.Events = s.events[first:next]
		if err := take(&b); err != nil {
			return err
		}
	}
	return nil
}

// before reports whether an event concerns a beat or earlier ones, or begins before
// it, as a long shift does that ends later.
func before(ev beat.Event, last beat.Beat) bool {
	return ev.Beat <= last.Index || ev.Start <= last.Time
}

// mark names what the times of the beats stand for, and says why it is not
// mid-lift where it isn't, in whole sentences.
func (s *story) mark() (name string, doubts []string) {
	name = MidLift
	for _, m := range s.marks {
		if !m.Reading.Told() {
			name = Clearest
			doubts = append(doubts, "The lift could not be told: "+m.Reading.Doubt+". The times are those of the clearest sound of a beat, and their errors allow for what it may have moved against mid-lift.")
		}
	}
	for _, p := range s.slipped {
		doubts = append(doubts, fmt.Sprintf("%.2g %% of the %ss are marked by another of their sounds than the others, and left out; the rate there is that of the other side, and the beat error may be off by as much as its error says.", 100*p.share, p.side))
	}
	for _, side := range s.noise {
		doubts = append(doubts, fmt.Sprintf("The %ss are too faint to be timed: what was taken for them scatters like noise. The rate is that of the other side, and there is no beat error; bring the microphone nearer.", side))
	}
	if len(s.marks) > 1 {
		doubts = append(doubts, fmt.Sprintf("The sound of the beats changed so much that it was learned anew %d times: the times before and after may mark different instants of a beat.", len(s.marks)-1))
	}
	return name, doubts
}
