package rate

import (
	"math"
	"testing"
)

func TestNominal(t *testing.T) {
	for _, c := range []struct {
		flag, train, measured, want float64
		source                      NominalSource
	}{
		{19800, 18000, 21600, 19800, FromFlag},
		{0, 18000, 21600, 18000, FromTrain},
		{0, 0, 18050, 18000, FromCustom},
		{0, 0, 17910, 18000, FromCustom},
		{0, 0, 18091, 18091, FromMeasured},
		{0, 0, 3617.9, 3600, FromCustom},
		{0, 0, 1234, 1234, FromMeasured},
		{0, 0, 43000, 43000, FromMeasured},
	} {
		if got, source := Nominal(c.flag, c.train, c.measured); got != c.want || source != c.source {
			t.Errorf("Nominal(%v, %v, %v) = %v, %s", c.flag, c.train, c.measured, got, source)
		}
	}
	if bph, source := Nominal(0, 0, math.NaN()); !math.IsNaN(bph) || source != FromMeasured {
		t.Errorf("of nothing: %v, %s", bph, source)
	}
}

func TestRate(t *testing.T) {
	// A period short by 1 ppm gains 0.0864 s a day.
	r := Rate(Value{0.4 * (1 - 1e-6), 4e-8}, 0.4)
	if math.Abs(r.X-0.0864) > 1e-6 || math.Abs(r.SE-0.00864) > 1e-7 {
		t.Errorf("%+v", r)
	}
}
