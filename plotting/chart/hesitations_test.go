package chart

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/fault"
)

// hesitating is a run of eight hours with so many hesitations: one in seven of
// any tooth, late or early, the others of beat 10 of a turn of 30.
func hesitating(events int) Run {
	rng := rand.New(rand.NewPCG(5, 5))
	r := sampleRun(480, minute)
	r.Events = nil
	for i := range events {
		b := int64(i)*144000/int64(events)/30*30 + 10
		e := beat.Event{Kind: beat.Late, Beat: b, Shift: 4e-3 * math.Exp(0.1*rng.NormFloat64())}
		if i%7 == 3 {
			e.Beat += rng.Int64N(20)
			e.Shift = 3e-4 * math.Exp(0.8*rng.NormFloat64())
			if i%2 == 0 {
				e.Kind, e.Shift = beat.Early, -e.Shift
			}
		}
		e.Start = float64(e.Beat) / 5
		e.End = e.Start
		r.Events = append(r.Events, e)
	}
	return r
}

var wheel = Turn{Arbor: "escape wheel", Beats: 30, Teeth: 15}

func TestHesitationsShowEachSize(t *testing.T) {
	for _, n := range []int{1, 40, 3000} {
		r := hesitating(n)
		f := Hesitations(r, nil, wheel)
		if len(f.Panels) != 2 {
			t.Fatalf("%d events: %d panels", n, len(f.Panels))
		}
		for i, p := range f.Panels {
			late, early := p.Series[0], p.Series[1]
			if len(late.X)+len(early.X) != n {
				t.Errorf("%d events: panel %d shows %d late and %d early", n, i, len(late.X), len(early.X))
			}
			for _, s := range p.Series[:2] {
				for k, y := range s.Y {
					if !p.Y.span().contains(y) || !p.X.span().contains(s.X[k]) {
						t.Fatalf("%d events: one lies at %g, %g, off the scale of panel %d", n, s.X[k], y, i)
					}
				}
			}
			if late.Mark == early.Mark {
				t.Error("late and early look alike")
			}
		}
		if y, want := f.Panels[0].Series[0].Y[0], math.Log10(1e3*r.Events[0].Shift); math.Abs(y-want) > 1e-12 {
			t.Errorf("the first size is 10^%g ms, want 10^%g", y, want)
		}
	}
	expect(t, Hesitations(hesitating(0), nil, wheel), "no hesitation was found")
}

// Beat 10 of a turn of 30 belongs to tooth 6, between its middle and its end.
func TestHesitationsByPlaceInTheTurn(t *testing.T) {
	tooth := fault.Recurrence{Kind: fault.Events, PeriodBeats: 30, PhaseBeats: 10, Occurrences: 2571, Opportunities: 4800, Size: 0.004}
	other := fault.Recurrence{Kind: fault.Events, PeriodBeats: 240, PhaseBeats: 7, Match: "third wheel"}
	swing := fault.Recurrence{Kind: fault.Modulation, PeriodBeats: 77}
	f := Hesitations(hesitating(3000), []fault.Recurrence{swing, tooth}, wheel)
	expect(t, f, "tooth of the escape wheel", "1: events every 30 beats", "late (2 786)", "early (214)")
	near := 0
	for _, x := range f.Panels[1].Series[0].X {
		if x > 5.5 && x < 6 {
			near++
		}
	}
	if near < 2571 {
		t.Errorf("%d are shown at tooth 6, want at least 2571", near)
	}
	expect(t, Hesitations(hesitating(40), []fault.Recurrence{other, tooth}, wheel), "beat of the turn")
	if f := Hesitations(hesitating(40), []fault.Recurrence{swing}, Turn{}); len(f.Panels) != 1 {
		t.Errorf("without a turn there are %d panels", len(f.Panels))
	}
}

// Of very many, some are left out, and it is said.
func TestHesitationsAreThinned(t *testing.T) {
	f := Hesitations(hesitating(30000), nil, wheel)
	expect(t, f, "one in 7 or so is drawn")
	for _, p := range f.Panels {
		if n := len(p.Series[0].X); n > mostShifts || n < mostShifts/2 {
			t.Errorf("%d are drawn", n)
		}
	}
}

// A lane shows each event while they are few, and numbers where marks would
// cover each other.
func TestLanes(t *testing.T) {
	few, many := Rate(hesitating(40)), Rate(hesitating(3000))
	lane := few.Panels[1]
	if got := lane.Series[0]; len(got.X) != 37 || got.Size == 0 || len(lane.Areas[0].Boxes) != 0 {
		t.Errorf("a lane of 37 has %d marks of size %g and %d boxes", len(got.X), got.Size, len(lane.Areas[0].Boxes))
	}
	expect(t, few, "late 37", "early 3")
	expectNot(t, few, "Lanes of more than")
	lane = many.Panels[1]
	total, highest := 0.0, 0.0
	for _, b := range lane.Areas[0].Boxes {
		total, highest = total+b[3]-b[1], max(highest, b[3]-b[1])
	}
	if lane.Series[0].Size != 0 || highest < 0.8 || highest > 1 {
		t.Errorf("a lane of 2786 has marks of size %g, and boxes up to %g high", lane.Series[0].Size, highest)
	}
	expect(t, many, "late 2 786", "Lanes of more than 120 events show by height how many fall into each 3 min 26 s; at most 21 of late, 2 of early.")
	if got := total / highest * 21; math.Abs(got-2786) > 1 {
		t.Errorf("the boxes hold %g events, want 2786", got)
	}
	if expectNot(t, Rate(hesitating(0)), "late"); len(Rate(hesitating(0)).Panels) != 1 {
		t.Error("a run without events has lanes")
	}
}

func TestStopsAreTold(t *testing.T) {
	r := but(sampleRun(100, 60), func(r *Run) { r.Events = manyStops() })
	expect(t, Rate(r), "Stopped at 0:00:00 to 0:00:20, 0:01:01 to 0:01:21,", "and 94 times more.")
	r.Events = []beat.Event{{Kind: beat.Stop, Start: 5900, End: 6000}}
	expect(t, Rate(r), "Stopped at 1:38:20 to the end.")
}

// The frames of a column are in line and those of a row level, on whole dots,
// whatever room their axes take.
func TestFramesAreAligned(t *testing.T) {
	rows := [][]tile{
		{{plot: themed(Axis{High: 1}, valueAxis("y", span{0, 1e9}, 5, true))}, {plot: themed(Axis{High: 1}, Axis{High: 1})}},
		{{plot: themed(elapsedAxis(span{0, 3550}, 9), Axis{High: 1}), height: 40}, {plot: themed(Axis{High: 1}, valueAxis("", span{0, 1}, 5, true)), height: 40}},
	}
	frames := framesOf(rows)
	for r := range frames {
		for i, f := range frames[r] {
			if math.Abs(float64(f.Min.X-frames[0][i].Min.X)) > 0.05 || math.Abs(float64(f.Max.X-frames[0][i].Max.X)) > 0.05 {
				t.Errorf("row %d, column %d reaches from %g to %g", r, i, f.Min.X, f.Max.X)
			}
			if math.Abs(float64(f.Min.Y-frames[r][0].Min.Y)) > 0.05 || math.Abs(float64(f.Max.Y-frames[r][0].Max.Y)) > 0.05 {
				t.Errorf("row %d, column %d reaches from %g up to %g", r, i, f.Min.Y, f.Max.Y)
			}
			if off := math.Abs(float64(f.Min.X - dot(f.Min.X))); off > 0.05 {
				t.Errorf("row %d, column %d begins %g points off a dot", r, i, off)
			}
		}
	}
	if h := frames[1][0].Size().Y; math.Abs(float64(h-40)) > 0.4 {
		t.Errorf("a frame of 40 points is %g high", h)
	}
}
