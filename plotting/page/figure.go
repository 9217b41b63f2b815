package page

import (
	"html/template"
	"slices"
	"strings"

	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// figure is a chart of the page.
type figure struct {
	Role    string
	Title   string
	Alt     string
	How     string            // to read it
	Picture template.HTMLAttr // where it comes from
	Close   bool              // the script draws it to be read closely
}

// figureTexts are the charts that the page knows, in any order.
var figureTexts = []figure{
	{Role: "rate", Title: "Rate against elapsed time", Close: true,
		How: "Level is good: above zero the movement gains, below it loses. Shaded: the stable band, its edges dashed. Hatched: standing still."},
	{Role: "period", Title: "Period against elapsed time, as wide as the stable band", Close: true,
		How: "A longer period is a slower movement: this is the rate turned over, drawn so that the shaded band fills the picture."},
	{Role: "amplitude", Close: true},
	{Role: "isochronism", Title: "Rate against amplitude",
		How: "A flat cloud: amplitude does not matter to the rate. A slope is a want of isochronism; a loop is something else that changed with time. Dark is early in the run, light is late."},
	{Role: "beat-error", Title: "Beat error against elapsed time", Close: true,
		How: "Level at zero is in beat. A change over the wind says that the two sides do not lift alike."},
	{Role: "map", Title: "The run by turns of the escape wheel",
		How: "Each row is a turn, each column a beat; dark is late, light is early. A vertical line comes round with this wheel, a slanted one with a wheel further up."},
	{Role: "stability", Title: "How steady, by averaging time",
		How: "The lower, the less the rate changes from one stretch of that length to the next. The dashed and dotted lines are the least that these beats and the recorder's clock could have shown."},
}

// amplitudeTexts are the title of the chart of an amplitude, and how to read
// it.
func amplitudeTexts(kind rate.AmplitudeKind) (title, how string) {
	switch kind {
	case rate.Degrees:
		return "Amplitude against elapsed time", "It falls as the spring runs down. A step or a dip is a change of torque: look at what meshes there."
	case rate.LiftTime:
		return "Lift time against elapsed time", "It stands in for amplitude: the shorter the lift, the larger the swing. With --lift-angle it is given in degrees."
	}
	return "Loudness of the beats against elapsed time", "It stands in for amplitude, roughly: louder beats go with a larger swing, but a microphone that was moved looks the same."
}

// newFigures are the charts that can be shown, by role.
func newFigures(r Run) map[string]*figure {
	figures := map[string]*figure{}
	for _, f := range figureTexts {
		switch {
		case f.Role == "map" && r.Grid != nil && r.Grid.Cells(mostCells).Rows > 0, f.Role == "stability" && len(r.Stabilities) > 0:
			f.Close = true
		}
		i := slices.IndexFunc(r.Pictures, func(p Picture) bool { return p.Role == f.Role })
		if i < 0 && !f.Close {
			continue
		}
		if i >= 0 {
			f.Picture = embedded("image/png", r.Pictures[i].PNG)
		}
		if f.Role == "amplitude" {
			f.Title, f.How = amplitudeTexts(r.AmplitudeKind)
		}
		f.Alt = f.Title + ". " + altText(r, f.Role)
		figures[f.Role] = &f
	}
	return figures
}

// turnRole begins the roles of pictures of one turn of an arbor: a number and
// the arbor's name follow.
const turnRole = "turn-"

// turnFigures are the pictures of one turn of each arbor.
func turnFigures(r Run) []*figure {
	var figures []*figure
	for _, p := range r.Pictures {
		rest, ok := strings.CutPrefix(p.Role, turnRole)
		if !ok {
			continue
		}
		_, arbor, _ := strings.Cut(rest, "-")
		f := figure{Role: p.Role, Title: "One turn of the " + strings.ReplaceAll(arbor, "-", " ") + ", all turns averaged", Picture: embedded("image/png", p.PNG),
			How: "A place that stands out beyond its error bars is late or early whenever it comes round."}
		f.Alt = f.Title + ". What comes round is listed in the table of recurrences."
		figures = append(figures, &f)
	}
	return figures
}

// altText says in words what a chart shows.
func altText(r Run, role string) string {
	s := &r.Summary
	switch role {
	case "rate":
		return "Rate: " + prose.Rate(s) + ". Stable band: " + prose.Band(s) + "."
	case "period":
		return "Mean period " + prose.Period(s) + "."
	case "amplitude":
		return "Amplitude: " + prose.Amplitude(s) + "."
	case "beat-error":
		return "Beat error: " + prose.BeatError(s) + "."
	case "isochronism":
		return "The figures are in the table of the parts of the wind."
	case "map":
		return "What comes round is listed in the table of recurrences."
	}
	return "The figures are in the text beside it."
}

// figureOf is a chart of the page, nil where it can't be shown.
func figureOf(v *view, role string) *figure { return v.Figures[role] }
