package chart

import (
	"math"
	"strings"
	"testing"

	"rundown/analysis/contacts"
)

// samplePortraits are beats of three decaying tones, the lift growing and the
// level falling from one moment to the next.
func samplePortraits(name bool) []Portrait {
	const step = 1.0 / 48000
	var ps []Portrait
	for k, title := range []string{"full wind", "middle", "near the end"} {
		half := 0.0035 * (1 + 0.3*float64(k))
		p := Portrait{title, contacts.Portrait{At: 60 + 14000*float64(k)}}
		if name {
			p.Lift, p.LiftSE = 2*half, 2.8e-5
		}
		for side := range p.Sides {
			s := contacts.Sound{Start: -0.010, Step: step, Beats: 150, Samples: make([]float64, 1000)}
			for j, at := range []float64{-half, -half / 10, half} {
				for i := range s.Samples {
					if t := s.Start + float64(i)*step - at; t > 0 {
						s.Samples[i] += []float64{0.02, 0.05, 0.1}[j] / float64(k+1) * math.Exp(-t/6e-4) * math.Sin(2*math.Pi*5200*t)
					}
				}
				c := contacts.Contact{At: at, SE: 2e-5}
				if name {
					c.Name = []string{"unlocking", "impulse", "drop"}[j]
				}
				s.Contacts = append(s.Contacts, c)
			}
			p.Sides[side] = s
		}
		ps = append(ps, p)
	}
	return ps
}

func TestBeatMarksContacts(t *testing.T) {
	f := Beat(Heading{}, samplePortraits(true), "the middle of the lift", "")
	expect(t, f, "tick, full wind (0:01:00), lift 7.000 ± 0.028 ms", "tock, near the end (7:47:40), lift 11.200 ± 0.028 ms",
		"unlocking −3.500 ± 0.020 ms", "drop +5.600 ± 0.020 ms", "mean of 150 beats", "runs from the middle of the lift", "envelope")
	expectNot(t, f, "was not told")
	if len(f.Panels) != 6 {
		t.Fatalf("%d panels, want a row for each of three moments", len(f.Panels))
	}
	for i, p := range f.Panels {
		if p.X.Low != f.Panels[0].X.Low || p.X.High != f.Panels[0].X.High || p.X.Low > -9.9 || p.X.High < 10.8 {
			t.Errorf("panel %d runs from %g to %g ms", i, p.X.Low, p.X.High)
		}
		if p.Y.High != f.Panels[i/2*2].Y.High {
			t.Errorf("panel %d has not the scale of its row", i)
		}
		if wave := p.Series[0]; math.Abs(wave.X[480]) > 1e-9 || len(wave.X) != 1000 {
			t.Errorf("panel %d: sample 480 of %d lies at %g ms, want the mark", i, len(wave.X), wave.X[480])
		}
		contacts := p.Series[2]
		if got := contacts.X[6]; math.Abs(got-3.5*(1+0.3*float64(i/2))) > 1e-9 {
			t.Errorf("panel %d: the drop is marked at %g ms", i, got)
		}
	}
}

func TestBeatSaysWhyTheLiftIsNotKnown(t *testing.T) {
	f := Beat(Heading{}, samplePortraits(false), "the clearest sound", "two readings remain probable")
	expect(t, f, "The lift could not be told: two readings remain probable.", "+3.500 ± 0.020 ms", "runs from the clearest sound")
	expectNot(t, f, "unlocking", "lift 7")
}

// However many sounds a side has, each is told in a line of its own, and the axis has a
// scale, however loud they are; what was not heard stands in brackets.
func TestBeatOfManySounds(t *testing.T) {
	for loud := 0.01; loud < 1000; loud *= 1.1 {
		ps := samplePortraits(true)
		for i := range ps {
			tick := &ps[i].Sides[0]
			for j := range tick.Samples {
				tick.Samples[j] *= loud
			}
			drop := tick.Contacts[2]
			drop.Unheard = true
			tick.Contacts = append(tick.Contacts[:2], contacts.Contact{At: 0.2e-3}, contacts.Contact{At: 0.9e-3}, contacts.Contact{At: 1.4e-3}, drop)
		}
		f := Beat(Heading{}, ps, "the middle of the lift", "")
		if loud == 0.01 {
			expect(t, f, "(drop) +3.500 ± 0.020 ms", "in brackets was not heard")
			for i, a := range labels(f) {
				for _, b := range labels(f)[i+1:] {
					if overlap(a.box, b.box) {
						t.Errorf("%q and %q overlap", a.text, b.text)
					}
				}
			}
		}
		for i, p := range f.Panels {
			if n := len(labelled(p.Y.Ticks)); n < 2 || n > 5 {
				t.Errorf("%g as loud, panel %d: labels %q", loud, i, labelled(p.Y.Ticks))
			}
		}
	}
}

func TestBeatOfLittle(t *testing.T) {
	expect(t, Beat(Heading{}, nil, "the mark", ""), "no beat was heard")
	ps := samplePortraits(true)[:1]
	ps[0].Sides[1] = contacts.Sound{}
	f := Beat(Heading{}, ps, "the mark", "")
	expect(t, f, "too few beats", "tick, full wind")
	if strings.Contains(f.Panels[1].Title, "lift") {
		t.Errorf("a side that was not heard is headed %q", f.Panels[1].Title)
	}
}

// The envelope of a tone is its amplitude, away from the ends.
func TestEnvelope(t *testing.T) {
	for _, n := range []int{999, 1000} {
		samples := make([]float64, n)
		for i := range samples {
			samples[i] = 0.3 * math.Sin(0.7*float64(i))
		}
		for i, v := range envelope(samples)[100 : n-100] {
			if math.Abs(v-0.3) > 0.01 {
				t.Fatalf("of %d samples, the envelope is %g at %d", n, v, 100+i)
			}
		}
	}
	if envelope(nil) != nil {
		t.Error("nothing has an envelope")
	}
}
