package sequence

import (
	"math"
	"math/rand/v2"
	"slices"

	"rundown/analysis/beat"
)

// movement makes beats with known truth. The zero value of a field leaves the
// matter out.
type movement struct {
	seed       uint64
	interval   float64                      // of beats at rate 0, s
	beats      int                          //
	rate       float64                      // s/day
	course     func(t, end float64) float64 // change of the rate, s/day, at time t of end
	walk       float64                      // random walk of the rate, s/day in an hour
	beatError  func(t, end float64) float64 // s
	scatter    float64                      // s
	ratio      float64                      // scatter of tocks over that of ticks; 0 is 1
	louder     func(t, end float64) float64 // what the scatter is multiplied by
	teeth      int                          // of the escape wheel
	uneven     float64                      // error of each of its beats, s
	shape      func(phase float64) float64  // the same by part of the turn, s
	modulation []modulation
	outliers   float64 // share of beats displaced alone
	wild       float64 // by how much at most, s
	unheard    float64 // share of beats not heard
	hesitate   *hesitation
	steps      map[int]float64 // s, by beat
	alone      map[int]float64 // s, by beat
	silent     map[int]bool    // not heard, by beat
	stop       int             // first beat after a standstill; 0 for none
}

type modulation struct{ period, size, phase float64 } // beats, s, rad

// hesitation is a tooth at which the movement hesitates in some turns.
type hesitation struct {
	phase int
	share float64
	size  float64 // s
}

// truth is what a movement did.
type truth struct {
	beats []Beat
	steps []Step
}

// run makes the beats.
func (m movement) run() truth {
	if m.ratio == 0 {
		m.ratio = 1
	}
	stream := func(n uint64) *rand.Rand { return rand.New(rand.NewPCG(m.seed, n)) }
	walk, noise, bad, tooth, wheel := stream(1), stream(2), stream(3), stream(4), stream(5)
	turn := 2 * m.teeth
	errors := make([]float64, turn)
	for side := range 2 {
		mean := 0.
		for i := side; i < turn; i += 2 {
			errors[i] = m.uneven * tooth.NormFloat64()
			if m.shape != nil {
				errors[i] += m.shape(float64(i) / float64(turn))
			}
			mean += errors[i] * 2 / float64(turn)
		}
		for i := side; i < turn; i += 2 {
			errors[i] -= mean
		}
	}
	end := float64(m.beats) * m.interval
	t, slip, wander := 0.25, 0., 0.
	var out truth
	for i := range m.beats {
		step := m.steps[i]
		if h := m.hesitate; h != nil && i%turn == h.phase && i > 12 && i < m.beats-12 && wheel.Float64() < h.share {
			step += h.size
		}
		if step != 0 {
			slip += step
			out.steps = append(out.steps, Step{Beat: int64(i), Shift: step})
		}
		b := Beat{Index: int64(i), Side: beat.Side(i % 2), Heard: bad.Float64() >= m.unheard && !m.silent[i]}
		if m.stop > 0 && i == m.stop {
			b.Fresh = true
			slip += 7.3
		}
		n := m.scatter * noise.NormFloat64()
		if i%2 == 1 {
			n *= m.ratio
		}
		if m.louder != nil {
			n *= m.louder(t, end)
		}
		b.Time = t + slip + n + m.alone[i]
		if m.beatError != nil {
			b.Time += (float64(i%2) - 0.5) * m.beatError(t, end)
		}
		if turn > 0 {
			b.Time += errors[i%turn]
		}
		for _, w := range m.modulation {
			b.Time += w.size * math.Sin(2*math.Pi*float64(i)/w.period+w.phase)
		}
		if bad.Float64() < m.outliers {
			b.Time += m.wild * (2*bad.Float64() - 1)
		}
		out.beats = append(out.beats, b)
		wander += walk.NormFloat64() * m.walk * math.Sqrt(m.interval/3600)
		rate := m.rate + wander
		if m.course != nil {
			rate += m.course(t, end)
		}
		t += m.interval / (1 + rate/86400)
	}
	return out
}

// draw makes a movement at random, with scatter, walk, teeth and run-downs as
// wide as movements have them, seconds long.
func draw(seed uint64, seconds float64) movement {
	r := rand.New(rand.NewPCG(seed, 99))
	u := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	pick := func(x ...float64) float64 { return x[r.IntN(len(x))] }
	pendulum := r.Float64() < 0.25
	bph := pick(14400, 16200, 18000, 18000, 18000, 19800, 21600, 21600, 25200, 28800, 28800, 36000)
	teeth := pick(12, 15, 15, 15, 16, 20)
	if pendulum {
		bph, teeth = pick(3600, 5400, 7200, 8640, 9000, 12000), pick(30, 30, 40)
	}
	if r.Float64() < 0.2 {
		bph = math.Round(bph * u(0.93, 1.07))
	}
	m := movement{
		seed: seed, interval: 3600 / bph, beats: int(seconds * bph / 3600), rate: u(-40, 40),
		scatter: math.Exp(u(math.Log(10e-6), math.Log(150e-6))), walk: pick(0.005, 0.015, 0.05), teeth: int(teeth),
	}
	share := 0.012 * r.NormFloat64()
	if r.Float64() < 0.2 {
		share = u(-0.12, 0.12)
	}
	loss := 0.
	if r.Float64() < 0.4 {
		loss = u(0.2, 0.6)
		m.course = runDown(u(1, 4), u(1, 4), loss, r)
	}
	m.beatError = func(t, end float64) float64 {
		x := t / end
		return share * m.interval / (1 - loss*(0.3*x+0.7*math.Pow(x, 9)))
	}
	if r.Float64() < 0.3 {
		m.uneven = u(10e-6, 80e-6)
	}
	return m
}

// runDown is a rate that follows the amplitude: it falls fast at first, slowly
// then, and steeply in the end by the part loss; the rate is even about nine
// tenths of full swing, and changes by low and high s/day per percent below and
// above that.
func runDown(low, high, loss float64, r *rand.Rand) func(t, end float64) float64 {
	phase := 2 * math.Pi * r.Float64()
	return func(t, end float64) float64 {
		x := t / end
		a := 1 - 0.1*(1-math.Exp(-x/0.05)) - 0.13*x - loss*math.Pow(x, 9) + 0.001*math.Sin(2*math.Pi*t/700+phase)
		soft := func(x float64) float64 { return math.Log1p(math.Exp(x / 0.01)) }
		return high*soft(a-0.88) - low*soft(0.74-a)
	}
}

// spoil adds faults as movements have them.
func (m *movement) spoil() {
	r := rand.New(rand.NewPCG(m.seed, 98))
	u := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	m.steps, m.silent, m.alone = map[int]float64{}, map[int]bool{}, map[int]float64{}
	if r.Float64() < 0.6 {
		size := u(0.4e-3, 4e-3)
		if m.interval > 0.3 {
			size *= 3
		}
		m.hesitate = &hesitation{phase: r.IntN(2 * m.teeth), share: u(0.15, 1), size: size}
	}
	if r.Float64() < 0.6 {
		for range 1 + r.IntN(12) {
			m.steps[60+r.IntN(m.beats-120)] += u(0.6e-3, 6e-3) * float64(1-2*r.IntN(2))
		}
	}
	for range r.IntN(6) {
		at := 60 + r.IntN(m.beats-120)
		for i := range 1 + r.IntN(4) {
			m.silent[at+i] = true
		}
	}
}

// disturb lets some beats be displaced alone or not be heard, and one side
// scatter otherwise than the other.
func (m *movement) disturb() {
	r := rand.New(rand.NewPCG(m.seed, 96))
	if r.Float64() < 0.5 {
		m.outliers, m.wild = 0.04*r.Float64(), 5e-3*r.Float64()
	}
	if r.Float64() < 0.3 {
		m.unheard = 0.02 * r.Float64()
	}
	if r.Float64() < 0.3 {
		m.ratio = 0.5 + 1.5*r.Float64()
	}
}

// modulate lets the times come and go with a period.
func (m *movement) modulate() {
	r := rand.New(rand.NewPCG(m.seed, 97))
	if r.Float64() < 0.3 {
		m.modulation = append(m.modulation, modulation{math.Exp(math.Log(20) + r.Float64()*math.Log(200)), 400e-6 * r.Float64(), 6 * r.Float64()})
	}
}

// match returns the steps of the truth that are found within one beat heard,
// with what was found, and those found without truth.
func match(tr truth, s *Story) (pairs [][2]Step, missed, invented []Step) {
	ranks := make([]int64, len(tr.beats)+1)
	for i, b := range tr.beats {
		ranks[i+1] = ranks[i]
		if b.Heard {
			ranks[i+1]++
		}
	}
	free := slices.Clone(s.Steps)
	for _, want := range tr.steps {
		hit := -1
		for i, got := range free {
			off := ranks[got.Beat] - ranks[want.Beat]
			if off >= -1 && off <= 1 && (got.Shift > 0) == (want.Shift > 0) && (hit < 0 || got.Beat == want.Beat) {
				hit = i
			}
			if off > 1 {
				break
			}
		}
		if hit < 0 {
			missed = append(missed, want)
			continue
		}
		pairs = append(pairs, [2]Step{want, free[hit]})
		free = slices.Delete(free, hit, hit+1)
	}
	return pairs, missed, free
}
