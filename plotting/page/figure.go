package page

import (
	"html/template"
	"slices"
	"strings"

	"rundown/analysis/prose"
	"rundown/analysis/rate"
	"rundown/plotting/chart"
)

// figure is a chart of the page.
type figure struct {
	Role    string
	Title   string
	Alt     string
	How     string            // to read it
	Picture template.HTMLAttr // where it comes from
	Close   bool              // the script draws it to be read closely
	chart   *chart.Figure
}

// figureTexts say how to read the charts that the page knows, in any order,
// and whether the script draws them. What a chart notes is added where it is
// not said already.
var figureTexts = []struct {
	role, how    string
	close, noted bool
}{
	{"rate", "Level is good: above zero the movement gains, below it loses. Shaded: the stable band, its edges dashed. Grey: standing still.", true, true},
	{"period", "A longer period is a slower movement: this is the rate turned over, drawn so that the shaded band fills the picture.", true, true},
	{"amplitude", "", true, true},
	{"beat", "What is drawn are averages, aligned on the mark. Look whether each contact is marked where its sound begins, and whether the lift grows as the wind runs down.", false, true},
	{"isochronism", "A flat cloud: amplitude does not matter to the rate. A slope is a want of isochronism; a loop is something else that changed with time. Dark is early in the run, light is late.", false, false},
	{"environment", "Where the curve above goes with a course below and the dashed one does not, the course explains it.", true, true},
	{"beat-error", "Level at zero is in beat. A change over the wind says that the two sides do not lift alike.", true, true},
	{"hesitations", "A level line of points is one cause that acts again and again; one place in the turn, one tooth.", true, true},
	{"map", "Each row is a turn, each column a beat; dark is late, light is early. A vertical line comes round with this wheel, a slanted one with a wheel further up.", true, false},
	{"stability", "The lower, the less the rate changes from one stretch of that length to the next. The dashed and dotted lines are the least that these beats and the recorder's clock could have shown.", true, false},
}

// amplitudeHow is how to read the chart of an amplitude.
func amplitudeHow(kind rate.AmplitudeKind) string {
	if kind == rate.Degrees {
		return "It falls as the spring runs down. A step or a dip is a change of torque: look at what meshes there."
	}
	return ""
}

// newFigures are the charts that can be shown, by role.
func newFigures(r Run) map[string]*figure {
	figures := map[string]*figure{}
	for _, text := range figureTexts {
		i := slices.IndexFunc(r.Pictures, func(p Picture) bool { return p.Role == text.role })
		if i < 0 {
			continue
		}
		f := newFigure(r.Pictures[i], text.how, text.close)
		if f.Role == "amplitude" {
			f.How = amplitudeHow(r.AmplitudeKind)
		}
		if text.noted {
			f.How = strings.TrimSpace(f.How + " " + strings.Join(f.chart.Notes, " "))
		}
		f.Alt = f.Title + ". " + altText(r, f.Role)
		figures[f.Role] = f
	}
	return figures
}

// newFigure is a picture as a figure of the page; one without data is not drawn
// closely.
func newFigure(p Picture, how string, close bool) *figure {
	return &figure{Role: p.Role, Title: p.Figure.Title, How: how, Picture: embedded("image/png", p.PNG),
		Close: close && p.Figure.Panels[0].Banner == "", chart: p.Figure}
}

// turnRole begins the roles of pictures of one turn of an arbor: a number and
// the arbor's name follow.
const turnRole = "turn-"

// turnFigures are the pictures of one turn of each arbor.
func turnFigures(r Run) []*figure {
	var figures []*figure
	for _, p := range r.Pictures {
		if !strings.HasPrefix(p.Role, turnRole) {
			continue
		}
		f := newFigure(p, "A place that stands out beyond its error bars is late or early whenever it comes round.", false)
		f.Alt = f.Title + ". What comes round is listed in the table of recurrences."
		figures = append(figures, f)
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
	case "map", "hesitations":
		return "What comes round is listed in the table of recurrences."
	}
	return "The figures are in the text beside it."
}

// figureOf is a chart of the page, nil where it can't be shown.
func figureOf(v *view, role string) *figure { return v.Figures[role] }
