package stats

import "testing"

func TestVertex(t *testing.T) {
	parabola := func(x, top float64) float64 { return 3 - 2*(x-top)*(x-top) }
	for _, top := range []float64{-0.5, -0.3, 0, 0.25, 0.5} {
		if got := Vertex(parabola(-1, top), parabola(0, top), parabola(1, top)); got < top-1e-12 || got > top+1e-12 {
			t.Errorf("%v, want %v", got, top)
		}
	}
	for _, c := range []struct{ a, b, c, want float64 }{{1, 2, 3, 0}, {0, 1, 1.9, 0.5}, {1.9, 1, 0, -0.5}, {2, 1, 2, 0}} {
		if got := Vertex(c.a, c.b, c.c); got != c.want {
			t.Errorf("%v: %v", c, got)
		}
	}
}
