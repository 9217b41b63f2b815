package page

import (
	"fmt"
	"html/template"
	"io"

	"rundown/analysis/fusee"
)

// Fusee is what the page of a spring and its fusee shows. Nothing in it is changed.
type Fusee struct {
	*fusee.Result
	Name     string    // of the torque table or the run, without its folders
	Pictures []Picture // the charts drawn
	Drawing  []byte    // as SVG; nil where there is no fusee
}

// fuseeView is what its template shows.
type fuseeView struct {
	frame
	Name, Caution, Finding  string
	Spring, Making, Keeping []entry
	Figures                 map[string]*figure
	Drawing                 template.HTMLAttr
	StopWork                []fusee.StopWorkRow
	StopWorkNote            string
	ByRate                  bool
	Unit                    string
	Lathe                   []latheRow
}

// latheRow is a row of the table for the lathe.
type latheRow struct{ Turn, Axial, Radius, Bottom string }

// fuseeTexts say how to read the charts of a fusee, by their roles.
var fuseeTexts = map[string]string{
	"torque":     "The steeper the curve, the more uneven the torque. Shaded is what the fusee uses of it; the thick line at the foot is what stop-work would keep without one.",
	"stopwork":   "The lower a point, the steadier the best stretch of so many turns. Above the dashed line, more changes than the tolerance allows; the square is the most turns below it.",
	"evenness":   "Above, level is even. Below, close up: what rounding the radii leaves; a step is a row of the table.",
	"fusee-rate": "With the fusee, what still changes comes from the torque that is left over. The band is what the run leaves uncertain of its rate at that torque.",
}

// WriteFusee writes the page of a spring and its fusee. The error is w's.
func WriteFusee(w io.Writer, f Fusee) error {
	return render(w, "fusee.html", newFuseeView(f))
}

func newFuseeView(f Fusee) *fuseeView {
	v := &fuseeView{
		frame: newFrame("Fusee and stop-work for " + f.Name), Name: f.Name, Caution: fusee.Caution, Finding: f.Finding(),
		Spring: entries(f.Spring()), Making: entries(f.Making()), Keeping: entries(f.Keeping()),
		Figures: map[string]*figure{}, StopWork: f.StopWorkRows(), StopWorkNote: f.StopWorkNote(), ByRate: f.ByRate(), Unit: map[bool]string{false: "mm", true: "inches"}[f.Units.Inches],
	}
	for _, p := range f.Pictures {
		shown := newFigure(p, fuseeTexts[p.Role], true)
		for _, note := range p.Figure.Notes {
			shown.How += " " + note
		}
		shown.Alt = shown.Title + ". The figures are in the text beside it."
		v.Figures[p.Role] = shown
	}
	if made := f.Result.Fusee; made != nil {
		v.Drawing = embedded("image/svg+xml", f.Drawing)
		places := f.Units.Decimals()
		written := func(mm float64, places int) string { return fmt.Sprintf("%.*f", places, f.Units.Length(mm)) }
		for _, r := range made.Rows {
			v.Lathe = append(v.Lathe, latheRow{fmt.Sprintf("%.4g", r.Turn), written(r.Axial, places+1), written(r.Radius, places), written(2*r.Radius-made.Options.Chain, places)})
		}
	}
	v.Data = newData(0, v.Figures)
	return v
}

// entries are figures with their names as pages show them.
func entries(list []fusee.Entry) []entry {
	var out []entry
	for _, e := range list {
		out = append(out, entry{e.Label, e.Text})
	}
	return out
}
