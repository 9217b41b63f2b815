package beat

import "math"

// kalman predicts the next beat from those heard, all in frames. Its state is
// the instant of the beat, were it of side 0, the beat interval, by how much side 1
// comes late against the middle between two beats of side 0, how much later from
// beat to beat, as where two contacts are the marks of the sides and the lift grows, and
// by how much the interval grows:
//
//	side 0: x,  side 1: x + b
//
// The interval and the growth of the beat error wander slowly, so that some fifty beats back
// count no more, and far faster where the beats come ever farther from where they are due:
// before a stop, the rate and the lift change by more from beat to beat than in an hour before.
// That the interval grows soon passes, as just after winding, where nothing comes to it.
type kalman struct {
	x, tau, b, grows float64
	gains            float64 // by how much tau grows from beat to beat
	p                [5][5]float64
	sigma            float64    // scatter of single beats, frames
	lag              [2]float64 // mean of the latest innovations of either side, in their standard deviations
	strays           float64    // how many beats have strayed of late
	stray            float64    // by how many frames the last one did, 0 where it did not
	straySide        [2]float64 // likewise of the last beat of either side
	displaced        float64    // by how many frames it was displaced, in all
}

// wander is how far the interval, and how fast the beat error grows, walk from beat to
// beat, in units of the scatter, squared, and strolls how far the beat and the beat error do
// by themselves.
const (
	wander  = 1e-7
	strolls = 1e-3
)

// hurried is wander of what lags: of the interval while the mean of so many innovations as
// lagBeats is lagging, which it is beyond once in ten thousand by chance, of the other while half
// of what they differ by between the sides is. Some fifteen beats back count no more then.
const (
	hurried  = 2e-5
	lagBeats = 16
	lagging  = 0.7
)

// growing and gaining are how uncertain it is by how much the beat error and the interval of a
// movement just wound grow from beat to beat, in units of the scatter: those of a pendulum do by a
// whole scatter and a seventh of one. What tau gains passes in so many beats, and where it lags,
// walks by hastens.
const (
	growing = 0.2
	gaining = 0.05
	passes  = 128
	hastens = 1e-5
)

func newKalman(x, tau, b, sigma, uncertain float64) *kalman {
	k := &kalman{x: x, tau: tau, b: b, sigma: sigma}
	k.p[0][0] = sigma * sigma
	k.p[1][1] = uncertain * uncertain
	k.p[2][2] = sigma * sigma
	return k
}

// wound lets beat error and interval grow from beat to beat as those of a movement just wound may.
func (k *kalman) wound() {
	k.p[3][3] = growing * growing * k.sigma * k.sigma
	k.p[4][4] = gaining * gaining * k.sigma * k.sigma
}

// step moves on by n beats.
func (k *kalman) step(n float64) {
	r := k.sigma * k.sigma
	left := math.Exp(-n / passes) // of what tau gains, which is this much in all, and moves x by that
	gain := passes * (1 - left)
	move := passes * (n - gain)
	k.x += n*k.tau + move*k.gains
	k.tau += gain * k.gains
	k.gains *= left
	k.b += n * k.grows
	for i := range k.p { // the rows, and then the columns, of what moves with what
		k.p[0][i] += n*k.p[1][i] + move*k.p[4][i]
		k.p[1][i] += gain * k.p[4][i]
		k.p[4][i] *= left
		k.p[2][i] += n * k.p[3][i]
	}
	for i := range k.p {
		k.p[i][0] += n*k.p[i][1] + move*k.p[i][4]
		k.p[i][1] += gain * k.p[i][4]
		k.p[i][4] *= left
		k.p[i][2] += n * k.p[i][3]
	}
	if k.lags() {
		k.p[4][4] += math.Abs(n) * r * hastens
	}
	k.walk(0, n, r*strolls, r*walkOf((k.lag[0]+k.lag[1])/2))
	uneven := (k.lag[0] - k.lag[1]) / 2
	k.walk(2, n, r*strolls, r*walkOf(uneven)*math.Pow(max(1, math.Abs(uneven)/lagging), 4))
}

// lags reports whether the beats come ever farther from where they are due.
func (k *kalman) lags() bool { return math.Abs(k.lag[0]+k.lag[1])/2 > lagging }

// walkOf returns how far a speed walks from beat to beat, squared, in units of the scatter,
// where innovations lag by so much.
func walkOf(lag float64) float64 {
	if math.Abs(lag) > lagging {
		return hurried
	}
	return wander
}

// walk lets the value of the state that is number i walk for n beats, by so much a beat,
// squared, and its speed, which is the next one, by as much as that says.
func (k *kalman) walk(i int, n, value, speed float64) {
	k.p[i][i] += n*value + n*n*n/3*speed
	k.p[i][i+1] += n * n / 2 * speed
	k.p[i+1][i] += n * n / 2 * speed
	k.p[i+1][i+1] += n * speed
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
// many don't, it is the beat error that has changed, or the state that is wrong; and where the
// interval lags, it is that which changes.
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
	lags := k.lags()
	k.lag[side] += (min(max(innovation/sd, -bad), bad) - k.lag[side]) / (lagBeats / 2)
	again := func(before float64) bool { return before != 0 && math.Abs(innovation-before) < math.Sqrt2*far }
	if math.Abs(innovation) < far {
		k.stray, k.straySide[side], k.strays = 0, 0, max(0, k.strays-1./patient)
	} else if lags { // it is the interval that changes
		k.stray, k.straySide[side] = 0, 0
	} else if again(k.stray) {
		innovation -= k.stray
		k.displace(k.stray)
	} else if k.strays < strayed && !again(k.straySide[side]) {
		k.stray, k.straySide[side], k.strays = innovation, innovation, k.strays+1
		k.scatter(bad * k.sigma)
		return
	}
	var g [5]float64
	for i := range g {
		g[i] = k.p[i][0] + h*k.p[i][2]
	}
	v := g[0] + h*g[2] + k.sigma*k.sigma
	k.x += g[0] / v * innovation
	k.tau += g[1] / v * innovation
	k.b += g[2] / v * innovation
	k.grows += g[3] / v * innovation
	k.gains += g[4] / v * innovation
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
	k.tau, k.grows = -k.tau, -k.grows
	k.stray, k.straySide = 0, [2]float64{}
	for i := range k.p {
		for j := range k.p {
			if i&1 != j&1 { // a speed and a value
				k.p[i][j] = -k.p[i][j]
			}
		}
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
	k.displaced += by
	k.p[0][0] += k.sigma * k.sigma
	k.stray, k.straySide = 0, [2]float64{}
}
