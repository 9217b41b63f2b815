package fusee

import (
	"fmt"
	"math"
	"strings"

	"rundown/analysis"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// Caution comes before anything that is told of a spring and a chain.
const Caution = "A mainspring under power and a chain under tension can maim: let the spring down with the proper tool before you take anything apart, " +
	"never wind it without a click or a stop that you have tested, keep face and fingers out of the chain's way, and wear eye protection. " +
	"A fusee's stop must hold the full torque of a hand that winds on, and it must act before the spring is wound solid. " +
	"Local rules and licensed practice come first."

// Entry is a figure with its name.
type Entry struct{ Label, Text string }

// number writes a figure with so many decimals.
func number(x float64, decimals int, unit string) string {
	return prose.Fixed(analysis.Number(x), decimals, unit)
}

func turns(x float64) string { return number(x, 2, "turns") }

func percent(x float64) string {
	if math.Abs(x) < 1 {
		return number(x, 2, "%")
	}
	return number(x, 1, "%")
}

func figure(v rate.Value, unit string) string {
	return prose.WithError(analysis.Number(v.X), analysis.Number(v.SE), unit)
}

func signed(v rate.Value, unit string) string {
	return prose.SignedWithError(analysis.Number(v.X), analysis.Number(v.SE), unit)
}

// hours writes a length of time given in hours.
func hours(x float64) string { return prose.Span(analysis.Number(3600 * x)) }

// Finding says in two or three sentences what the maker may cut.
func (r *Result) Finding() string {
	var said []string
	if f := r.Fusee; f != nil {
		radii := f.Radii()
		said = append(said, fmt.Sprintf("A fusee of %s, its radius from %s at the large end to %s, evens the torque to %s, as far as the torque is known, which is to %s; over the %s of the barrel that it uses, it now changes by %s.",
			number(f.Turns, 2, "turns"), r.Units.WriteLength(radii[1]), r.Units.WriteLength(radii[0]), percent(r.Trials[AsCut].Spread), percent(r.Doubt), turns(f.BarrelTurns), percent(r.now())))
		if e := r.Evened; e != nil {
			said = append(said, fmt.Sprintf("The rate of the run would then change by %s from full wind to the end%s.", figure(e.SpreadAfter, "s/day"), r.instead()))
		}
	}
	k, s := r.Best()
	switch {
	case k == nil:
		said = append(said, fmt.Sprintf("Without a fusee, no half turn or more keeps the %s within %s.", r.judged(), r.limit()))
	default:
		text := fmt.Sprintf("Without a fusee, stop-work that keeps %s, from %.2f to %s unwound, holds the %s within %s", number(k.Turns, 1, "turns"), s.From, turns(s.To), r.judged(), r.variation(s))
		if r.Drive != nil {
			text += " for " + hours(k.Hours)
		}
		said = append(said, text+".")
	}
	return strings.Join(said, " ")
}

// instead says by how much the rate changes now over the same turns.
func (r *Result) instead() string {
	if math.IsNaN(r.Evened.SpreadBefore) {
		return ""
	}
	return ", where it now changes by " + number(r.Evened.SpreadBefore, 1, "s/day")
}

// now is by how much the barrel's torque changes over the turns that the fusee uses, %.
func (r *Result) now() float64 {
	f := r.Fusee
	low, high := math.Inf(1), math.Inf(-1)
	for i := range gridLines {
		m := r.Torque.At(f.From + (f.To-f.From)*float64(i)/(gridLines-1))
		low, high = min(low, m), max(high, m)
	}
	return 100 * (high - low) / (r.Torque.Work(f.From, f.To) / (2 * math.Pi * f.BarrelTurns))
}

// judged is by what stop-work is judged.
func (r *Result) judged() string {
	if r.ByRate() {
		return "rate"
	}
	return "torque"
}

func (r *Result) variation(s *Stretch) string {
	if r.ByRate() {
		return number(s.Spread, 1, "s/day")
	}
	return percent(s.Spread)
}

// limit is the tolerance of stop-work.
func (r *Result) limit() string {
	if r.ByRate() {
		return number(r.Tolerance, 1, "s/day")
	}
	return percent(r.Uneven)
}

// WriteTorque writes a torque of the barrel or the fusee, which is a share of the
// greatest one where the amplitude stands in for it.
func (r *Result) WriteTorque(m float64) string {
	if r.Proxy() {
		return percent(m)
	}
	return r.Units.WriteTorque(m)
}

// Spring tells of the torque, and where it comes from.
func (r *Result) Spring() []Entry {
	span := r.Torque.End() - r.Torque.Start()
	entries := []Entry{{"Torque", fmt.Sprintf("%s at full wind, %s at the end, over %s of the barrel", r.WriteTorque(r.Torque.At(r.Torque.Start())), r.WriteTorque(r.Torque.At(r.Torque.End())), turns(span))}}
	if r.Proxy() {
		return append(entries, Entry{"Beware", fmt.Sprintf("no torque was measured: the run's amplitude to the power of %.2g stands in for it, in %% of the greatest. Losses of solid friction would make that 1, those of the air 2. "+
			"It tells shapes, not N·mm, and ends where the run ends, not where the spring is let down: a set-up counts from there", r.Exponent)})
	}
	scatter := r.Torque.Scatter(r.Table.Turns, r.Table.Down)
	entries = append(entries, Entry{"Measured", fmt.Sprintf("%s scatter about the smooth curve by %s, root mean square", prose.Count(len(r.Table.Turns), "row", "rows"), r.WriteTorque(scatter))})
	if r.BothWays {
		entries = append(entries, Entry{"Friction", fmt.Sprintf("%s, %s of the spring's own %s, each way: half of up minus down. So much is lost between the coils and in the barrel, as far as it is alike in both directions. "+
			"What drives the movement is the torque down, and for that everything here is worked out: after cleaning or oiling, measure again",
			r.WriteTorque(r.Friction.Half), percent(100*r.Friction.Half/r.Friction.Mean), r.WriteTorque(r.Friction.Mean))})
	}
	return entries
}

// Making tells what the fusee is.
func (r *Result) Making() []Entry {
	f := r.Fusee
	if f == nil {
		return nil
	}
	radii := f.Radii()
	length := r.Units.WriteLength
	torque := fmt.Sprintf("%s at the fusee's arbor, all along", prose.WithError(analysis.Number(r.Units.Torque(f.Torque)), analysis.Number(r.Units.Torque(f.TorqueSE)), r.Units.TorqueUnit()))
	if r.Proxy() {
		torque = "even, in an unknown unit: measure the spring before you choose the train"
	}
	entries := []Entry{
		{"Torque", torque},
		{"Spring", fmt.Sprintf("used from %.2f to %s unwound: %s of the barrel, %s left as set-up, %s unused at full wind", f.From, turns(f.To), turns(f.BarrelTurns), turns(f.SetUp), turns(f.From-r.Torque.Start()))},
		{"Radius", fmt.Sprintf("%s at the large end, least %s, of the chain's middle line; the groove's bottom lies %s nearer to the axis", length(f.Rows[0].Radius), length(radii[0]), length(f.Options.Chain/2))},
		{"Groove", fmt.Sprintf("%s at a pitch of %s: %s along the axis from the first middle line to the last, with a wall of %s between grooves", turns(f.Turns), number(r.Units.Length(f.Pitch), r.Units.Decimals()+1, r.Units.LengthUnit()), length(f.Turns*f.Pitch), length(f.Pitch-f.ChainWidth))},
		{"Chain", fmt.Sprintf("%s on the fusee at full wind; the hooks and the straight stretch to the barrel come to it", length(f.Chain))},
		{"Barrel", r.barrel()},
		{"Left over", fmt.Sprintf("the torque changes by %s over the wind, greatest minus least, with radii rounded to %s and straight lines between rows %.3g of a turn apart", percent(r.Trials[AsCut].Spread), lengthAs(r.Units, f.Rounding), f.Step)},
		{"Torque table", fmt.Sprintf("leaves the torque uncertain by %s somewhere in these turns: no fusee is more even than that", percent(r.Doubt))},
	}
	return append(entries, r.sensitive()...)
}

// lengthAs writes a small length with three significant digits.
func lengthAs(u Units, mm float64) string {
	return fmt.Sprintf("%.3g\u00a0%s", u.Length(mm), u.LengthUnit())
}

// barrel says whether the barrel has room.
func (r *Result) barrel() string {
	f := r.Fusee
	coils := f.BarrelTurns + 1
	text := fmt.Sprintf("takes the chain in %.2f coils, %s of its height", coils, r.Units.WriteLength(coils*f.ChainWidth))
	if f.BarrelHeight == 0 {
		return text + ": see that it has that, or give --barrel-height"
	}
	return text + " of " + r.Units.WriteLength(f.BarrelHeight)
}

// sensitive tells what becomes of the torque with another spring and another set-up.
func (r *Result) sensitive() []Entry {
	stronger, more := r.Trials[Stronger], r.Trials[MoreSetUp]
	entries := []Entry{{"Spring + 5 %", fmt.Sprintf("the torque is 5 %% more all along, and as even: it still changes by %s", percent(stronger.Spread))}}
	text := "is more than the spring has: nothing is left of it at full wind"
	if more.Possible {
		text = fmt.Sprintf("makes the torque change by %s over the wind", percent(more.Spread))
	}
	return append(entries, Entry{"Set-up + ½", "half a turn more set-up " + text})
}

// Keeping tells what time the movement would keep.
func (r *Result) Keeping() []Entry {
	if r.Drive == nil || r.Fusee == nil {
		return nil
	}
	f := r.Fusee
	went := []Entry{{"Goes for", fmt.Sprintf("%s, as now on those turns of the barrel: the fusee then has to turn once in %s, where the barrel takes %s", hours(f.BarrelTurns*r.Drive.HoursPerTurn), hours(f.BarrelTurns*r.Drive.HoursPerTurn/f.Turns), hours(r.Drive.HoursPerTurn))}}
	e := r.Evened
	if e == nil {
		return append(went, Entry{"Rate", "not known: the run does not cover the torque that the fusee would give"})
	}
	went = append(went, Entry{"Rate", signed(e.Mean, "s/day") + " in the mean, the run's own at that torque" + r.clock()},
		Entry{"Over a wind", "changes by " + figure(e.SpreadAfter, "s/day") + r.instead()},
		Entry{"Beware", "one run cannot tell what the torque did to its rate from what time did, as temperature may: all of it is put to the torque. Wind and record it once more before you cut"})
	if s := r.Run.Summary.Stability; s != nil {
		went = append(went, Entry{"Day to day", prose.Day(s)})
	}
	if !math.IsNaN(e.Amplitude.X) {
		went = append(went, Entry{"Amplitude", figure(e.Amplitude, "°")})
	}
	if !math.IsNaN(e.Stronger) {
		went = append(went, Entry{"Spring + 5 %", "moves the rate by " + signed(rate.Value{X: e.Stronger, SE: math.NaN()}, "s/day")})
	}
	if !math.IsNaN(e.MoreSetUp) {
		went = append(went, Entry{"Set-up + ½", "makes the rate change by " + number(e.MoreSetUp, 2, "s/day") + " over the wind"})
	}
	return went
}

// clock says what the recorder's clock adds to the error of a rate.
func (r *Result) clock() string {
	rec := &r.Run.Summary.Recording
	if !rec.ClockVerified {
		return ", on a recorder's clock that was not checked"
	}
	return fmt.Sprintf("; the recorder's clock adds ± %s", number(0.0864*float64(rec.ClockSE), 2, "s/day"))
}

// StopWorkNote says how the table of stop-work is to be read.
func (r *Result) StopWorkNote() string {
	text := "For each number of turns kept, the stretch in which the torque changes least"
	if r.ByRate() {
		text += ", and that in which the run's rate does; in a day is what the clock would gain in the first day of that, wound daily, or at its mean rate where it does not go so long"
	}
	return text + fmt.Sprintf(". Recommended is the most turns that keep the %s within %s.", r.judged(), r.limit())
}

// StopWorkRow is a row of the table of stop-work in words.
type StopWorkRow struct {
	Kept, Torque, TorqueSpread, Rate, RateSpread, Day, Goes string
	Best                                                    bool
}

// StopWorkRows are the table of stop-work.
func (r *Result) StopWorkRows() []StopWorkRow {
	var rows []StopWorkRow
	for i, k := range r.Kept {
		row := StopWorkRow{Kept: number(k.Turns, 1, "turns"), Torque: stretch(&k.ByTorque), TorqueSpread: percent(k.ByTorque.Spread), Rate: "–", RateSpread: "–", Day: "–", Goes: "–", Best: i == r.Recommended}
		if k.ByRate != nil {
			row.Rate, row.RateSpread, row.Day = stretch(k.ByRate), number(k.ByRate.Spread, 1, "s/day"), signed(k.Day, "s")
		}
		if !math.IsNaN(k.Hours) {
			row.Goes = hours(k.Hours)
		}
		rows = append(rows, row)
	}
	return rows
}

func stretch(s *Stretch) string { return fmt.Sprintf("%.2f to %.2f", s.From, s.To) }
