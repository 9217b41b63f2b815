package analysis

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/contacts/contactstest"
)

// told is a story of beats every 0.2 s, 20 µs apart from an even course, each
// moved by a number of seconds that depends on its number.
func told(beats int64, moved func(index int64) float64) *story {
	rng := rand.New(rand.NewPCG(6, 1))
	s := &story{}
	for i := range beats {
		b := beat.Beat{Index: i, Time: 0.5 + 0.2*float64(i) + 20e-6*rng.NormFloat64(), SE: 2e-6, Level: -30, Side: beat.Side(i & 1), Heard: true}
		b.Time += moved(i)
		s.beats = append(s.beats, b)
	}
	return s
}

// sounds are two sounds of a movement whose lift grows from 10 to 12 ms in ten
// minutes: from beat 1500 on, its beats are marked by the unlocking, and before it
// by the drop.
func twoSounds() (both []beat.Sounds, mid func(index int64, t float64) float64) {
	side := []contactstest.Contact{{At: 0, Level: 24, Modes: contactstest.Dull}, {At: 0.3, Level: 27, Modes: contactstest.Hollow}, {At: 1, Level: 30, Modes: contactstest.Bright}}
	scene := &contactstest.Scene{
		Rate: sampling, Period: 0.4, Lift: contactstest.Growing(10e-3, 12e-3, 600),
		Sides: [2][]contactstest.Contact{side, side}, Blur: 2e-6,
	}
	const change = 1500
	mid = func(index int64, t float64) float64 {
		if index < change {
			return -scene.Lift(t) / 2
		}
		return scene.Lift(t) / 2
	}
	for k, at := range []int64{0, change} {
		scene.Marks = [2]int{2 - 2*k, 2 - 2*k}
		l := scene.Layer()
		for i := at; i < at+change; i++ {
			t := 0.5 + 0.2*float64(i)
			l.Lay(int(i&1), (t-mid(i, t))*sampling, scene.Lift(t))
		}
		both = append(both, beat.Sounds{From: at, Stacks: l.Stacker, Room: scene.Room()})
	}
	return both, mid
}

// TestStoryRefersToMidLift gives beats of two sounds, whose marks lie a whole lift
// apart, and expects one even course from them, and nothing to have happened.
func TestStoryRefersToMidLift(t *testing.T) {
	vs, mid := twoSounds()
	s := told(3000, func(i int64) float64 { return -mid(i, 0.5+0.2*float64(i)) })
	s.tell(settings(), beat.Report{Period: 0.4, Sounds: vs}, sampling, func(frame float64) float64 { return frame / sampling })
	if len(s.events) > 0 {
		t.Errorf("events %+v", s.events)
	}
	for _, b := range s.beats {
		if off := b.Time - 0.5 - 0.2*float64(b.Index); math.Abs(off) > 150e-6 {
			t.Fatalf("beat %d is %.0f µs off mid-lift", b.Index, 1e6*off)
		}
	}
	if len(s.marks) != 2 || math.Abs(s.marks[1].From-300.5) > 0.02 {
		t.Errorf("marks %+v", s.marks)
	}
	name, doubts := s.mark()
	if name != MidLift || len(doubts) != 1 || !strings.Contains(doubts[0], "learned anew 1 times") {
		t.Errorf("mark %q, %q", name, doubts)
	}
	if math.Abs(s.jitter-20e-6) > 2e-6 {
		t.Errorf("jitter %g s, want 20 µs", s.jitter)
	}
}

// TestStoryOfShifts expects shifts to be events, with a note where the recorder may
// have made them, and none where the phase starts anew.
func TestStoryOfShifts(t *testing.T) {
	const quirk = "recorder lost samples"
	for _, c := range []struct {
		name  string
		size  float64      // by which beats from 400 on are moved, s
		with  []beat.Event // of the tracker
		quiet [2]int64     // beats not heard, from one to another
		want  beat.Kind    // of the shift; empty for none
		note  string       // part of its note
	}{
		{name: "nothing"},
		{name: "late", size: 2e-3, want: beat.Late},
		{name: "early", size: -2e-3, want: beat.Early, note: quirk},
		{name: "late by most of a beat", size: 0.15, want: beat.Late, note: quirk},
		{name: "late while some were not heard", size: 2e-3, quiet: [2]int64{396, 400}, want: beat.Late},
		{name: "after a stop", size: 7.7, with: []beat.Event{{Kind: beat.Stop, Beat: 399, Start: 80.3, End: 88.2, Shift: 7.7}}},
		{name: "after a gap", size: 0.05, with: []beat.Event{{Kind: beat.Gap, Beat: 396, Start: 79.7, End: 80.3}}, quiet: [2]int64{396, 400}},
	} {
		s := told(800, func(i int64) float64 {
			if i < 400 {
				return 0
			}
			return c.size
		})
		for i := c.quiet[0]; i < c.quiet[1]; i++ {
			s.beats[i].Heard = false
		}
		s.events = append(s.events, c.with...)
		s.shifts()
		var shifts []beat.Event
		for _, ev := range s.events {
			if ev.Kind == beat.Late || ev.Kind == beat.Early {
				shifts = append(shifts, ev)
			}
		}
		if c.want == "" {
			if len(shifts) > 0 {
				t.Errorf("%s: %+v", c.name, shifts)
			}
			continue
		}
		if len(shifts) != 1 {
			t.Errorf("%s: %d shifts: %+v", c.name, len(shifts), shifts)
			continue
		}
		ev := shifts[0]
		if ev.Kind != c.want || ev.Beat != 400 || math.Abs(ev.Shift-c.size) > 20e-6 || ev.End < ev.Start || math.Abs(ev.End-ev.Start-math.Abs(c.size)) > 20e-6 {
			t.Errorf("%s: %+v", c.name, ev)
		}
		if !strings.Contains(ev.Note, c.note) || (ev.Note == "") != (c.note == "") {
			t.Errorf("%s: note %q", c.name, ev.Note)
		}
	}
}

// TestStoryPassesInOrder expects every beat and event once, in order of time, no
// event later than the first beat that it concerns.
func TestStoryPassesInOrder(t *testing.T) {
	s := told(1300, func(int64) float64 { return 0 })
	for i, b := range s.beats {
		switch {
		case i == 512: // beyond the border of what is passed at once, it begins before it
			s.events = append(s.events, beat.Event{Kind: beat.Late, Beat: b.Index, Start: b.Time - 0.5, End: b.Time, Shift: 0.5})
		case i%97 == 0 || i == 511 || i == 1299:
			s.events = append(s.events, beat.Event{Kind: beat.Missed, Beat: b.Index, Start: b.Time, End: b.Time})
		}
	}
	s.shifts()
	want := len(s.events)
	beats, events := 0, 0
	lastBeat, lastStart := int64(-1), math.Inf(-1)
	err := s.pass(func(b *beat.Batch) error {
		for _, ev := range b.Events {
			if ev.Start < lastStart {
				t.Errorf("an event at %.2f s after one at %.2f", ev.Start, lastStart)
			}
			if ev.Beat <= lastBeat {
				t.Errorf("an event of beat %d came after that beat", ev.Beat)
			}
			lastStart = ev.Start
			events++
		}
		for _, x := range b.Beats {
			if x.Index != lastBeat+1 {
				t.Fatalf("beat %d after %d", x.Index, lastBeat)
			}
			lastBeat = x.Index
			beats++
		}
		return nil
	})
	if err != nil || beats != 1300 || events != want {
		t.Errorf("%d beats and %d of %d events were passed, error %v", beats, events, want, err)
	}
}

// TestStoryOfNothing tells that of no beats.
func TestStoryOfNothing(t *testing.T) {
	s := &story{}
	s.tell(settings(), beat.Report{}, sampling, func(frame float64) float64 { return frame / sampling })
	if err := s.pass(func(*beat.Batch) error { return nil }); err != nil || len(s.events) > 0 {
		t.Errorf("events %v, error %v", s.events, err)
	}
}

// TestNoiseIsNoSide takes noise for all beats of one side: they are not heard, the other
// side is timed as before, its first beat a tick, and the doubt is told. A side that scatters by as much as sides
// do is one.
func TestNoiseIsNoSide(t *testing.T) {
	for _, c := range []struct {
		scatter float64
		side    int64
		noise   bool
	}{{6e-3, 1, true}, {6e-3, 0, true}, {150e-6, 1, false}, {1e-3, 0, false}} {
		rng := rand.New(rand.NewPCG(8, 2))
		s := told(1200, func(i int64) float64 {
			if i&1 != c.side {
				return 0
			}
			return c.scatter * rng.NormFloat64()
		})
		s.shifts()
		_, doubts := s.mark()
		if noise := len(doubts) == 1 && strings.Contains(doubts[0], "tocks are too faint"); noise != c.noise {
			t.Errorf("scatter %v s: doubts %q", c.scatter, doubts)
		}
		if len(s.events) > 0 || c.noise && math.Abs(s.jitter-20e-6) > 3e-6 {
			t.Errorf("scatter %v s: jitter %v s, events %+v", c.scatter, s.jitter, s.events)
		}
		for _, b := range s.beats {
			if b.Heard != (b.Side == beat.Tick || !c.noise) {
				t.Fatalf("scatter %v s: %+v", c.scatter, b)
			}
		}
	}
}

// TestStandStillToTheEnd: where many beats are missed up to the end of a recording, the
// movement stood still from the last one on; a few may be faint, and what hides them tells
// nothing.
func TestStandStillToTheEnd(t *testing.T) {
	const first, end = 600, 151.
	for _, c := range []struct {
		kind   beat.Kind
		silent int64
		stops  bool
	}{{beat.Missed, 2, false}, {beat.Missed, 150, true}, {beat.Masked, 150, false}} {
		s := told(first+c.silent, func(int64) float64 { return 0 })
		for i := first; i < len(s.beats); i++ {
			s.beats[i].Heard = false
		}
		s.events = []beat.Event{{Kind: c.kind, Beat: first, Start: s.beats[first].Time, End: end}}
		s.standStillToTheEnd(end)
		if len(s.events) != 1 {
			t.Fatalf("events %+v", s.events)
		}
		want := int64(first)
		if !c.stops {
			want += c.silent
		}
		ev := s.events[0]
		if stop := ev.Kind == beat.Stop; stop != c.stops || int64(len(s.beats)) != want {
			t.Errorf("%d beats %s: %+v, %d rows, want %d", c.silent, c.kind, ev, len(s.beats), want)
		}
		if last := s.beats[first-1]; c.stops && (ev.Beat != last.Index || ev.Start != last.Time || ev.End != end) {
			t.Errorf("%+v after %+v", ev, last)
		}
	}
}

// TestStandStill: where a movement goes on out of its old place after beats that were
// missed, it stood still if these were many, and hesitated if they were few.
func TestStandStill(t *testing.T) {
	for _, c := range []struct {
		silent int64
		stops  bool
	}{{2, false}, {150, true}} {
		const first, by = 600, 6e-3
		s := told(1200, func(i int64) float64 { return by * math.Min(1, math.Max(0, float64(i-first))) })
		for i := first; i < first+int(c.silent); i++ {
			s.beats[i].Heard = false
		}
		s.events = []beat.Event{{Kind: beat.Missed, Beat: first, Start: s.beats[first].Time, End: s.beats[first+int(c.silent)-1].Time}}
		s.shifts()
		if stop := len(s.events) == 1 && s.events[0].Kind == beat.Stop; stop != c.stops {
			t.Fatalf("%d silent beats: %+v", c.silent, s.events)
		}
		want := int64(1200)
		if c.stops {
			want -= c.silent
			if ev := s.events[0]; ev.Beat != first-1 || math.Abs(ev.Shift-30-by) > 1e-3 {
				t.Errorf("%+v, want one of 30 s after beat %d", ev, first-1)
			}
		}
		for i, b := range s.beats {
			if b.Index != int64(i) {
				t.Fatalf("beat %d has number %d", i, b.Index)
			}
		}
		if int64(len(s.beats)) != want {
			t.Errorf("%d silent beats: %d rows, want %d", c.silent, len(s.beats), want)
		}
	}
}
