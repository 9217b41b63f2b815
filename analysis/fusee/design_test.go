package fusee

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// sampleOptions are a fusee of a small clock.
func sampleOptions() Options {
	return Options{BarrelDiameter: 32, Chain: 1.1, ChainWidth: 1.1, Turns: 5.5, SetUp: 1, BarrelTurns: 4.5, Pitch: 1.4, LeastRadius: 3, Step: 0.25, Rounding: 0.01}
}

// curveOf is the curve through a law of the torque, given at so many places a turn.
func curveOf(turns float64, perTurn int, torque func(turn float64) float64) *Curve {
	var x, y []float64
	for i := range int(turns*float64(perTurn)) + 1 {
		x = append(x, float64(i)/float64(perTurn))
		y = append(y, torque(x[i]))
	}
	return NewCurve(x, y, nil)
}

func design(t testing.TB, torque *Curve, o Options) *Fusee {
	t.Helper()
	f, err := Design(torque, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A spring whose torque falls in a straight line has a profile in closed form: the
// pull P over the chain on the fusee x is P₀ + kx, and pull times arm is C, so that
// arm dφ = dx gives P² = P₀² + 2kCφ and arm = C/√(P₀² + 2kCφ), with φ from the large
// end. Of the arm the radius lacks the pitch and its own slope, here by the series
// r² = a² − q² − (r₀′)² with r₀² = a² − q², and so on with r₁′, r₂′ and r₃′.
func TestDesignAgreesWithTheClosedForm(t *testing.T) {
	const turns, top, drop = 7.0, 900.0, 100.0 // N·mm, and N·mm a turn
	torque := curveOf(turns, 4, func(x float64) float64 { return top - drop*x })
	o := sampleOptions()
	f := design(t, torque, o)
	lever := math.Hypot((32+1.1)/2, 1.1/(2*math.Pi))
	q := o.Pitch / (2 * math.Pi)
	end := turns - o.SetUp
	p0 := (top - drop*end) / lever
	k := drop / (2 * math.Pi * lever * lever)
	pFull := (top - drop*(end-o.BarrelTurns)) / lever
	c := (pFull*pFull - p0*p0) / (2 * k * 2 * math.Pi * o.Turns)
	arm := func(phi float64) float64 { return c / math.Sqrt(p0*p0+2*k*c*phi) }
	radius := func(phi float64) float64 { return math.Sqrt(arm(phi)*arm(phi) - q*q) }
	for range 4 {
		rough := radius
		radius = func(phi float64) float64 {
			const h = 2e-3
			slope := (rough(phi+h) - rough(phi-h)) / (2 * h)
			return math.Sqrt(arm(phi)*arm(phi) - q*q - slope*slope)
		}
	}
	if math.Abs(f.Torque/c-1) > 1e-9 {
		t.Errorf("torque %v N·mm, want %v", f.Torque, c)
	}
	worst := 0.0
	for turn := 0.0; turn <= o.Turns; turn += 0.01 {
		worst = max(worst, math.Abs(f.Groove.Radius(turn)/radius(2*math.Pi*turn)-1), math.Abs(f.Groove.Arm(turn)/arm(2*math.Pi*turn)-1))
	}
	t.Logf("off by %.2g of the radius at most", worst)
	if worst > 1e-6 {
		t.Errorf("off by %.2g of the radius", worst)
	}
}

// P. Varignon, "De la figure ou curvité des fusées des horloges à ressort" (Mémoires de
// l'Académie royale des sciences, 1702), cited from memory: where the force of the
// spring grows as it is drawn, the radii of the fusee are inversely as the square
// roots of the abscissas. From one to four of these they are as 1, 0.70711, 0.57735
// and 0.5, and the force doubles.
func TestDesignAgreesWithVarignon(t *testing.T) {
	torque := curveOf(2, 4, func(x float64) float64 { return 1000 - 250*x })
	o := sampleOptions()
	o.SetUp, o.BarrelTurns, o.Turns, o.Chain, o.ChainWidth, o.Pitch, o.LeastRadius = 0, 2, 3, 1e-6, 1e-6, 1e-6, 0
	f := design(t, torque, o)
	for abscissa, want := range map[float64]float64{1: 1, 2: 0.70711, 3: 0.57735, 4: 0.5} {
		if got := f.Groove.Arm(abscissa-1) / f.Groove.Arm(0); math.Abs(got-want) > 1e-5 {
			t.Errorf("abscissa %v: %.5f of the largest, want %v", abscissa, got, want)
		}
	}
}

// randomTorque is a falling curve with bumps, measured with some scatter.
func randomTorque(rng *rand.Rand) *Curve {
	turns := 4 + 5*rng.Float64()
	top, low := 300+1500*rng.Float64(), 0.3+0.5*rng.Float64()
	bump, phase, steep := 0.05*rng.Float64(), 6*rng.Float64(), 0.3*rng.Float64()
	var x, y []float64
	for at := 0.0; at < turns; at += 0.1 + 0.4*rng.Float64() {
		u := at / turns
		x = append(x, at)
		y = append(y, top*(1-low*u+bump*math.Sin(5*u+phase)+steep*math.Exp(-4*at))*(1+0.01*rng.NormFloat64()))
	}
	return NewCurve(x, y, nil)
}

// polyline is the length of the groove as a line in space, by straight pieces of half
// and of full length, and Richardson's rule.
func polyline(g *Groove, from, to float64) float64 {
	length := func(n int) float64 {
		sum := 0.0
		place := func(i int) (x, y, z float64) {
			turn := from + (to-from)*float64(i)/float64(n)
			r := g.Radius(turn)
			sin, cos := math.Sincos(2 * math.Pi * turn)
			return r * cos, r * sin, g.Pitch * turn
		}
		for i := range n {
			x, y, z := place(i)
			x2, y2, z2 := place(i + 1)
			sum += math.Hypot(math.Hypot(x2-x, y2-y), z2-z)
		}
		return sum
	}
	const n = 5000
	a, b, c := length(n), length(2*n), length(4*n)
	return c + (c-b)/3 + ((c+(c-b)/3)-(b+(b-a)/3))/15
}

// Whatever the spring: what comes off the fusee is what the barrel takes up, the
// torque is even, and what the fusee gives is what the spring does, also with another
// set-up, where the torque is not even.
func TestChainAndWorkAreConserved(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 1))
	made := 0
	var offChain, offWork float64
	var uneven []float64
	for range 30 {
		torque := randomTorque(rng)
		o := sampleOptions()
		o.SetUp, o.BarrelTurns = 0.5+rng.Float64(), 0
		o.Turns, o.Pitch = 3+4*rng.Float64(), 1.2+rng.Float64()
		f, err := Design(torque, o)
		if limit := LimitError(""); errors.As(err, &limit) {
			continue
		} else if err != nil {
			t.Fatal(err)
		}
		made++
		for _, shift := range []float64{0, 0.3} {
			to := f.To - shift
			c, ok := f.Carry(torque, f.Groove, to, 1)
			if !ok {
				t.Fatal("no such wind")
			}
			chain := 2 * math.Pi * f.arm * (to - c.Barrel[len(c.Barrel)-1])
			offChain = max(offChain, math.Abs(polyline(f.Groove, 0, c.Turn[len(c.Turn)-1])/chain-1))
			in := torque.Work(to-f.Chain/(2*math.Pi*f.arm), to)
			offWork = max(offWork, math.Abs(out(f, torque, to)/in-1))
			if shift == 0 {
				uneven = append(uneven, c.Spread()/100)
			}
		}
	}
	slices.Sort(uneven)
	t.Logf("%d fusees: chain off by %.2g at most, work by %.2g, torque uneven by %.2g, half of them by less than %.2g",
		made, offChain, offWork, uneven[made-1], uneven[made/2])
	if made < 20 {
		t.Errorf("only %d fusees of 30 were made", made)
	}
	// Springs that give next to nothing at the end make grooves that swing between nodes.
	if offChain > 1e-9 || offWork > 1e-9 || uneven[made-1] > 1e-3 || uneven[made/2] > 1e-5 {
		t.Error("more than 1e-9 of chain or work, 1e-3 of torque, or for half of them 1e-5")
	}
}

// out is the work that the fusee gives over a wind, by Boole's rule in each of many
// pieces.
func out(f *Fusee, torque *Curve, to float64) float64 {
	at := func(turn float64) float64 {
		return torque.At(to-f.Groove.Chain(turn)/(2*math.Pi*f.arm)) * f.Groove.Arm(turn) / f.arm
	}
	sum, n := 0.0, 16*(len(f.Groove.nodes)-1) // no piece reaches over a node
	h := f.Turns / float64(n)
	for i := range n {
		a := float64(i) * h
		sum += 2 * math.Pi * h / 90 * (7*at(a) + 32*at(a+h/4) + 12*at(a+h/2) + 32*at(a+3*h/4) + 7*at(a+h))
	}
	return sum
}

// A cone has a spring of its own, and comes back.
func TestDesignFindsACone(t *testing.T) {
	const large, slope, pitch, turns, setUp = 14.0, 0.16, 1.5, 4.0, 0.5 // mm, mm a radian
	o := sampleOptions()
	o.Turns, o.Pitch, o.SetUp, o.Rounding, o.Step = turns, pitch, setUp, 1e-6, 0.5
	lever := o.barrelArm()
	var barrel, torque []float64
	chain, arm := 0.0, func(phi float64) float64 {
		return math.Sqrt(math.Pow(large-slope*phi, 2) + math.Pow(pitch/(2*math.Pi), 2) + slope*slope)
	}
	const n, every = 40000, 50
	h := 2 * math.Pi * turns / n
	for i := range n + 1 {
		if i%every == 0 {
			barrel, torque = append(barrel, chain/(2*math.Pi*lever)), append(torque, 5000/arm(float64(i)*h))
		}
		a := float64(i) * h
		chain += h / 6 * (arm(a) + 4*arm(a+h/2) + arm(a+h))
	}
	used := barrel[len(barrel)-1]
	o.BarrelTurns = used
	var x, y []float64 // from full wind on, and the set-up after it
	for i := len(barrel) - 1; i >= 0; i-- {
		x, y = append(x, used-barrel[i]), append(y, torque[i])
	}
	last := len(x) - 1
	fall := (y[last] - y[last-1]) / (x[last] - x[last-1])
	for at := 0.01; at <= setUp+1e-9; at += 0.01 {
		x, y = append(x, used+at), append(y, y[last]+fall*at)
	}
	f := design(t, NewCurve(x, y, nil), o)
	for _, r := range f.Rows {
		if want := large - slope*2*math.Pi*r.Turn; math.Abs(r.Radius-want) > 1e-3 {
			t.Errorf("turn %v: radius %.5f mm, want %.5f", r.Turn, r.Radius, want)
		}
	}
}

func TestDesignNamesTheLimit(t *testing.T) {
	torque := curveOf(7, 4, func(x float64) float64 { return 900 - 100*x })
	dead := curveOf(7, 4, func(x float64) float64 { return max(700-130*x, 0) })
	for _, c := range []struct {
		what   string
		torque *Curve
		change func(*Options)
		want   string
	}{
		{"least radius", torque, func(o *Options) { o.LeastRadius = 12 }, "below the 12.00 mm that can be cut; at most"},
		{"crossing", torque, func(o *Options) { o.Pitch = 1 }, "crosses itself: its pitch of 1.00 mm is less than the chain's width of 1.10 mm"},
		{"barrel", torque, func(o *Options) { o.BarrelHeight = 5 }, "longer than the barrel holds: 5.50 coils of 1.10 mm take 6.05 mm of its height of 5.00 mm; at most 3.55 turns"},
		{"set-up", torque, func(o *Options) { o.SetUp = 8; o.BarrelTurns = 0 }, "a set-up of 8.00 turns leaves none of the spring's 7.00"},
		{"both", torque, func(o *Options) { o.SetUp = 3 }, "are more than the spring's 7.00"},
		{"no torque", dead, func(o *Options) { o.SetUp = 0.5 }, "no torque at"},
		{"too steep", torque, func(o *Options) { o.Turns, o.Pitch, o.LeastRadius = 70, 50, 0 }, "climb faster than it winds"},
	} {
		o := sampleOptions()
		c.change(&o)
		_, err := Design(c.torque, o)
		if le := LimitError(""); !errors.As(err, &le) || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "the fusee cannot be made: ") {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

// What the error for a radius too small advises can be made, and little more cannot.
func TestAdviceOnTurnsHolds(t *testing.T) {
	torque := curveOf(7, 4, func(x float64) float64 { return 900 - 100*x })
	o := sampleOptions()
	o.LeastRadius = 12
	least := design(t, torque, sampleOptions()).Radii()[0]
	o.Turns *= least / o.LeastRadius
	o.Turns *= 0.995
	design(t, torque, o)
	o.Turns *= 1.02
	if _, err := Design(torque, o); err == nil {
		t.Error("more turns than advised can be made")
	}
}

func TestTrials(t *testing.T) {
	torque := curveOf(7, 4, func(x float64) float64 { return 900 - 100*x })
	f := design(t, torque, sampleOptions())
	trials := f.Trials(torque)
	cut, stronger, more := trials[AsCut], trials[Stronger], trials[MoreSetUp]
	if !cut.Possible || cut.Spread > 0.5 || math.Abs(cut.Mean/f.Torque-1) > 1e-3 {
		t.Errorf("as cut: %+v of %v", cut.Spread, f.Torque)
	}
	if math.Abs(stronger.Mean/cut.Mean-1.05) > 1e-9 || math.Abs(stronger.Spread-cut.Spread) > 1e-9 {
		t.Errorf("a stronger spring: %v, %v %%", stronger.Mean, stronger.Spread)
	}
	// The pull is 50 N·mm more all along: at the large end, of 300, and at the small
	// one, of 750, which is a sixth and a fifteenth.
	if want := 100 * (1./6 - 1./15) / (1 + (1./6+1./15)/2); !more.Possible || math.Abs(more.Spread-want) > 1.5 {
		t.Errorf("more set-up: %.2f %%, want about %.2f", more.Spread, want)
	}
	o := sampleOptions()
	o.BarrelTurns = 6
	if full := design(t, torque, o).Trials(torque)[MoreSetUp]; full.Possible {
		t.Error("more set-up than the spring has was possible")
	}
}

// Rounding to a hundredth of a millimetre and straight lines between the rows leave
// what they must: no more than the shares of the radius that they are.
func TestRoundingLeavesLittle(t *testing.T) {
	torque := curveOf(7, 4, func(x float64) float64 { return 900 - 100*x })
	last := math.Inf(1)
	for _, rounding := range []float64{0.5, 0.1, 0.02, 1e-6} {
		o := sampleOptions()
		o.Rounding, o.Step = rounding, 0.125
		f := design(t, torque, o)
		spread := f.Trials(torque)[AsCut].Spread
		if spread > last {
			t.Errorf("rounded to %v mm: %v %%, finer than %v %%", rounding, spread, last)
		}
		if most := 100*rounding/f.Radii()[0] + 0.2; spread > most {
			t.Errorf("rounded to %v mm: %v %%, more than %v", rounding, spread, most)
		}
		last = spread
	}
}
