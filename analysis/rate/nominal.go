package rate

import "rundown/analysis/acquisition"

// NominalSource is where a nominal count comes from.
type NominalSource string

// The sources of a nominal count, in order of precedence.
const (
	FromFlag     NominalSource = "flag"
	FromTrain    NominalSource = "train"
	FromCustom   NominalSource = "customary"
	FromMeasured NominalSource = "measured"
)

// Nominal returns the nominal beats per hour and where they come from: the
// flag, the train, the nearest customary count if measured lies near it, or else
// measured itself. Counts of 0 are not given.
func Nominal(flag, train, measured float64) (float64, NominalSource) {
	if flag > 0 {
		return flag, FromFlag
	}
	if train > 0 {
		return train, FromTrain
	}
	if best, near := acquisition.NearestCustomary(measured); near {
		return best, FromCustom
	}
	return measured, FromMeasured
}

// Rate returns the rate in s/day of a movement of the given period, both
// periods in seconds: 86400 · (nominal / period − 1).
func Rate(period Value, nominal float64) Value {
	return Value{86400 * (nominal/period.X - 1), 86400 * nominal / (period.X * period.X) * period.SE}
}

// SetRates fills in the rate of every window from its period. nominal is the
// nominal period in seconds.
func SetRates(ws []Window, nominal float64) {
	for i := range ws {
		ws[i].Rate = Rate(ws[i].Period, nominal)
	}
}
