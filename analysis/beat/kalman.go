package beat

import "math"

// kalman predicts the next beat from those heard, all in frames. Its state is
// the instant of the beat, were it of side 0, the beat interval, and by how
// much side 1 comes late against the middle between two beats of side 0:
//
//	side 0: x,  side 1: x + b
//
// The interval wanders slowly, so that some fifty beats back count no more, and far
// faster where the beats come ever farther from where they are due: before a stop, the
// rate and the lift change by more from beat to beat than in an hour before.
type kalman struct {
	x, tau, b float64
	p         [3][3]float64
	sigma     float64    // scatter of single beats, frames
	lag       float64    // mean of the latest innovations, in their standard deviations
	strays    float64    // how many beats have strayed of late
	stray     float64    // by how many frames the last one did, 0 where it did not
	straySide [2]float64 // likewise of the last beat of either side
}

// wander is how far the interval walks from beat to beat, in units of the
// scatter, squared, and ofOffset how far the beat error does: that of a movement far
// out of beat grows by tens of microseconds a beat before it stops.
const (
	wander   = 1e-7
	ofOffset = 2e-3
)

// hurried is wander while the mean of so many innovations as lagBeats is beyond lagging,
// which is once in ten thousand by chance: some fifteen beats back count no more then.
const (
	hurried  = 2e-5
	lagBeats = 16
	lagging  = 0.7
)

func newKalman(x, tau, b, sigma, uncertain float64) *kalman {
	k := &kalman{x: x, tau: tau, b: b, sigma: sigma}
	k.p[0][0] = sigma * sigma
	k.p[1][1] = uncertain * uncertain
	k.p[2][2] = sigma * sigma
	return k
}

// step moves on by n beats.
func (k *kalman) step(n float64) {
	r := k.sigma * k.sigma
	walk := wander
	if math.Abs(k.lag) > lagging {
		walk = hurried
	}
	k.x += n * k.tau
	k.p[0][0] += 2*n*k.p[0][1] + n*n*k.p[1][1] + r*(1e-3*n+walk*n*n*n/3)
	k.p[0][1] += n*k.p[1][1] + r*walk*n*n/2
	k.p[1][0] = k.p[0][1]
	k.p[0][2] += n * k.p[1][2]
	k.p[2][0] = k.p[0][2]
	k.p[1][1] += r * walk * n
	k.p[2][2] += r * ofOffset * n
}

// expect returns when the beat of the state is due, and the standard deviation
// of that, its own scatter included.
func (k *kalman) expect(side int) (at, sd float64) {
	h := float64(side)
	v := k.p[0][0] + 2*h*k.p[0][2] + h*h*k.p[2][2] + k.sigma*k.sigma
	return k.x + h*k.b, math.Sqrt(v)
}

// stepped is how many standard deviations out of its place a beat strays: it was displaced
// alone, or is the first after a step of the phase, which the next one tells. Where the next
// one of its side strays as far, or strayed of them do, and hardly more than patient times as
// many don't, it is the beat error that has changed, or the state that is wrong.
const (
	stepped = 4
	strayed = 6
	patient = 4
)

// update takes in that the beat came at z. One that strays changes nothing yet but the
// scatter.
func (k *kalman) update(side int, z float64) {
	h := float64(side)
	at, sd := k.expect(side)
	innovation := z - at
	far := stepped * sd
	again := func(before float64) bool { return before != 0 && math.Abs(innovation-before) < math.Sqrt2*far }
	if math.Abs(innovation) < far {
		k.stray, k.straySide[side], k.strays = 0, 0, max(0, k.strays-1./patient)
	} else if again(k.stray) {
		innovation -= k.stray
		k.displace(k.stray)
	} else if k.strays < strayed && !again(k.straySide[side]) {
		k.stray, k.straySide[side], k.strays = innovation, innovation, k.strays+1
		k.scatter(bad * k.sigma)
		return
	}
	var g [3]float64
	for i := range g {
		g[i] = k.p[i][0] + h*k.p[i][2]
	}
	v := g[0] + h*g[2] + k.sigma*k.sigma
	k.lag += (min(max(innovation/math.Sqrt(v), -bad), bad) - k.lag) / lagBeats
	k.x += g[0] / v * innovation
	k.tau += g[1] / v * innovation
	k.b += g[2] / v * innovation
	for i := range g {
		for j := range g {
			k.p[i][j] -= g[i] * g[j] / v
		}
	}
	k.scatter(math.Abs(innovation) / math.Sqrt(v) * k.sigma)
}

// bad is how many standard deviations an innovation counts at the most.
const bad = 3

// scatter takes in an innovation, without what the state leaves of it: the scatter follows
// them, with a bound on each, so that one bad mark changes it little. 0.05 frames is the
// finest that a mark can be.
func (k *kalman) scatter(by float64) {
	by = min(by, bad*k.sigma)
	k.sigma = max(0.05, math.Sqrt(k.sigma*k.sigma+(by*by*1.02-k.sigma*k.sigma)/64))
}

// reverse turns the order of the beats around: step then goes back by one.
func (k *kalman) reverse() {
	k.tau = -k.tau
	k.stray, k.straySide = 0, [2]float64{}
	for _, i := range []int{0, 2} {
		k.p[i][1] = -k.p[i][1]
		k.p[1][i] = -k.p[1][i]
	}
}

// order is by how much the number of the beat grows in a step.
func (k *kalman) order() int64 {
	if k.tau < 0 {
		return -1
	}
	return 1
}

// displace moves the movement on by so many frames for good, as well as one
// beat's mark tells it.
func (k *kalman) displace(by float64) {
	k.x += by
	k.p[0][0] += k.sigma * k.sigma
	k.stray, k.straySide = 0, [2]float64{}
}
