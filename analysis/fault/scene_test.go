package fault

import (
	"cmp"
	"flag"
	"math"
	"math/rand/v2"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/train"
)

// trials is the number of runs of each statistical trial: few by default, to be
// quick, and more to measure the figures themselves.
var (
	trials    = flag.Int("trials", 2, "runs of each statistical trial")
	firstSeed = flag.Uint64("seed", 100_000, "seed of the first run of each trial")
)

// scene describes a run at the level of beats, with truth.
type scene struct {
	seed    uint64
	perHour float64
	beats   int
	jitter  float64                 // white scatter of every beat, s
	wander  float64                 // random walk of the rate: standard deviation of its change in an hour, s/day
	drift   func(u float64) float64 // rate in s/day against the part of the run gone by
	wave    func(n int) float64     // regular unevenness, s
	unheard float64                 // probability that a beat isn't heard
	deaf    [2]int                  // from and to which beat none is heard
	tooth   []tooth
	random  float64 // unrelated late events per hour
	blur    float64 // probability that an event is numbered one beat too high or low
}

// tooth is a bad tooth.
type tooth struct {
	period, phase float64
	chance        float64 // of acting, each turn
	shift         float64 // s
	fleeting      bool    // displaces its own beat alone, and is no event
}

// play makes the run. Scatter, faults and hearing have generators of their own,
// so that changing one moves no other.
func (s scene) play() ([]beat.Beat, []beat.Event) {
	noise, fault, ear := rand.New(rand.NewPCG(s.seed, 1)), rand.New(rand.NewPCG(s.seed, 2)), rand.New(rand.NewPCG(s.seed, 3))
	interval := 3600 / s.perHour
	step := s.wander / 86400 * math.Sqrt(interval/3600)
	delay, fleeting, events := s.faults(fault)
	beats := make([]beat.Beat, s.beats)
	t, rate, lost := 1.0, 0.0, 0.0
	for n := range beats {
		lost += delay[n]
		at := t + lost + fleeting[n] + s.jitter*noise.NormFloat64()
		if n%2 == 1 {
			at += 0.8e-3 // twice the beat error
		}
		if s.wave != nil {
			at += s.wave(n)
		}
		beats[n] = beat.Beat{Index: int64(n), Time: at, Side: beat.Side(n % 2), Heard: ear.Float64() >= s.unheard && (n < s.deaf[0] || n >= s.deaf[1])}
		rate += step * noise.NormFloat64()
		daily := 0.0
		if s.drift != nil {
			daily = s.drift(float64(n) / float64(s.beats))
		}
		t += interval * (1 - rate - daily/86400)
	}
	for i := range events {
		events[i].Start = beats[events[i].Beat].Time
		events[i].End = events[i].Start
	}
	return beats, events
}

// faults draws what the bad teeth and chance do: the lasting delay that begins
// at each beat, the displacement of each beat alone, and the events as a
// detector would report them.
func (s scene) faults(r *rand.Rand) (delay, fleeting []float64, events []beat.Event) {
	delay, fleeting = make([]float64, s.beats), make([]float64, s.beats)
	for _, th := range s.tooth {
		for k := 0; ; k++ {
			n := int(math.Round(th.phase + float64(k)*th.period))
			if n >= s.beats {
				break
			}
			if r.Float64() < th.chance && n > 0 {
				if th.fleeting {
					fleeting[n] += th.shift
				} else {
					delay[n] += th.shift
				}
			}
		}
	}
	chance := s.random / s.perHour
	for n := 1; n < s.beats; n++ {
		if r.Float64() < chance {
			delay[n] += 3e-3 + 4e-3*r.Float64()
		}
	}
	for n, d := range delay {
		if d == 0 {
			continue
		}
		at := n
		if u := r.Float64(); u < s.blur && n > 1 && n+1 < s.beats {
			at += 1 - 2*int(2*u/s.blur)
		}
		events = append(events, beat.Event{Kind: beat.Late, Beat: int64(at), Shift: d + s.jitter*r.NormFloat64()/2})
	}
	slices.SortStableFunc(events, func(a, b beat.Event) int { return cmp.Compare(a.Beat, b.Beat) })
	return delay, fleeting, events
}

// collect plays the scene to a Collector.
func (s scene) collect() *Collector {
	beats, events := s.play()
	return gather(beats, events, 997)
}

// gather hands beats and events to a Collector in batches of some beats.
func gather(beats []beat.Beat, events []beat.Event, size int) *Collector {
	var c Collector
	for len(beats) > 0 {
		batch := beats[:min(len(beats), size)]
		n := 0
		for n < len(events) && events[n].Beat <= batch[len(batch)-1].Index {
			n++
		}
		c.Append(batch, events[:n])
		beats, events = beats[len(batch):], events[n:]
	}
	return &c
}

// exampleTrain has an escape wheel of 30 beats a turn, a fourth arbor of 300, a
// third of 2250, a centre of 18 000 and a barrel of 144 000.
func exampleTrain() *train.Train {
	return &train.Train{Arbors: []train.Arbor{
		{Name: "barrel", Wheel: 96},
		{Name: "centre", Pinion: 12, Wheel: 80, TurnsPerHour: 1},
		{Name: "third", Pinion: 10, Wheel: 75},
		{Name: "fourth", Pinion: 10, Wheel: 80},
		{Name: "escape", Pinion: 8, Escape: 15},
	}}
}

// partly returns a wave that has the given values one after the other in equal
// parts of a period.
func partly(period float64, values []float64) func(int) float64 {
	return func(n int) float64 {
		turns := float64(n)/period + 1e-9
		return values[int((turns-math.Floor(turns))*float64(len(values)))]
	}
}

// hour is an hour at 18 000 beats, with the scatter of a fair recording, whose
// rate drifts by some 15 s/day along a smooth curve.
func hour(seed uint64) scene {
	r := rand.New(rand.NewPCG(seed, 99))
	a, b, c := 5+5*r.Float64(), 10*(r.Float64()-0.5), 2*math.Pi*r.Float64()
	return scene{
		seed: seed, perHour: 18000, beats: 18000, jitter: 30e-6, unheard: 0.003,
		drift: func(u float64) float64 { return a*math.Exp(-2*u) + b*u + a*math.Sin(4*u+c) },
	}
}

// sine is a wave of the given period in beats and peak-to-peak size in seconds.
func sine(period, size, phase float64) func(int) float64 {
	return func(n int) float64 { return size / 2 * math.Sin(2*math.Pi*float64(n)/period+phase) }
}
