package onset

import "math"

// transform is the Fourier transform of a power of two of real frames, at least four: that
// of half as many complex ones (radix 4, in order throughout: R. C. Swarztrauber, Parallel
// Comput. 5, 1987, 197). It keeps buffers, so each goroutine needs its own.
type transform struct {
	turns []complex128 // e^(−2πik/n) for n frames, k to half of them
	x, y  []complex128
}

func newTransform(n int) *transform {
	t := &transform{make([]complex128, n/2), make([]complex128, n/2), make([]complex128, n/2)}
	for k := range t.turns {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		t.turns[k] = complex(cos, -sin)
	}
	return t
}

// forward sets c, n/2+1 long, to the sums of x[i]·e^(−2πik/n).
func (t *transform) forward(c []complex128, x []float64) {
	half := len(t.x)
	for i := range t.x {
		t.x[i] = complex(x[2*i], x[2*i+1])
	}
	z := t.run()
	for k := range half/2 + 1 {
		a, b := z[k], z[(half-k)%half]
		even := complex(real(a)+real(b), imag(a)-imag(b)) / 2
		odd := complex(imag(a)+imag(b), real(b)-real(a)) / 2 * t.turns[k]
		c[k], c[half-k] = even+odd, conj(even-odd)
	}
}

// back sets x to the sums of c[k]·e^(2πik/n), where c goes on as that of real frames does:
// n times what it is the transform of.
func (t *transform) back(x []float64, c []complex128) {
	half := len(t.x)
	for k := range half/2 + 1 {
		a, b := c[k], conj(c[half-k])
		even, odd := a+b, (a-b)*conj(t.turns[k])
		// The conjugate of even + i·odd, so that forward goes backward.
		t.x[k] = complex(real(even)-imag(odd), -imag(even)-real(odd))
		if k > 0 {
			t.x[half-k] = complex(real(even)+imag(odd), imag(even)-real(odd))
		}
	}
	for i, v := range t.run() {
		x[2*i], x[2*i+1] = real(v), -imag(v)
	}
}

func conj(v complex128) complex128 { return complex(real(v), -imag(v)) }

// run returns the transform of t.x, valid until the next call.
func (t *transform) run() []complex128 {
	x, y := t.x, t.y
	n, stride := len(x), 1
	for ; n >= 4; n, stride = n/4, 4*stride {
		quarter := len(x) / 4
		for p := range n / 4 {
			w1, w2 := t.turns[2*p*stride], t.turns[4*p*stride]
			w3 := w1 * w2
			at := p * stride
			a, b := x[at:][:stride], x[at+quarter:][:stride]
			c, d := x[at+2*quarter:][:stride], x[at+3*quarter:][:stride]
			out := y[4*at:][:4*stride]
			o0, o1, o2, o3 := out[:stride], out[stride:][:stride], out[2*stride:][:stride], out[3*stride:][:stride]
			for i, a := range a {
				ac, bd := a+c[i], b[i]+d[i]
				am, bm := a-c[i], b[i]-d[i]
				bm = complex(imag(bm), -real(bm)) // times −i
				o0[i], o1[i], o2[i], o3[i] = ac+bd, w1*(am+bm), w2*(ac-bd), w3*(am-bm)
			}
		}
		x, y = y, x
	}
	if n == 2 {
		half := len(x) / 2
		for i := range half {
			a, b := x[i], x[i+half]
			y[i], y[i+half] = a+b, a-b
		}
		x = y
	}
	return x
}
