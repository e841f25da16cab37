package web

import (
	"fmt"
	"html/template"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/rank/score"
)

// Pictures are drawn on the server as SVG. Each has its values in words for those who do not see it, and tells everything by place and form,
// nothing by colour alone.

// barWidth is the width of an interval's picture, in its own units.
const barWidth = 200

// bar draws a probability with its 90 % interval on a scale from 0 to 100 %.
func bar(p, low, high float64) template.HTML {
	x := func(v float64) float64 { return 4 + v*(barWidth-8) }
	return template.HTML(fmt.Sprintf(`<svg class="bar" viewBox="0 0 %d 18" role="img" aria-label="%s, 90 %% interval %s to %s">`+
		`<path class="scale" d="M4 15.5H%d M4 12v3.5 M%g 13v2.5 M%g 12v3.5 M%g 13v2.5 M%d 12v3.5"/>`+
		`<path class="span" d="M%.1f 7H%.1f M%.1f 2.5v9 M%.1f 2.5v9"/><circle class="point" cx="%.1f" cy="7" r="4"/></svg>`,
		barWidth, casebook.Percent(p), casebook.Percent(low), casebook.Percent(high), barWidth-4, x(0.25), x(0.5), x(0.75), barWidth-4,
		x(low), x(high), x(low), x(high), x(p)))
}

// shareBar draws a share of a whole.
func shareBar(p float64) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="bar" viewBox="0 0 %d 10" role="img" aria-label="%s"><path class="scale" d="M4 9.5H%d"/><path class="fill" d="M4 2h%.1fv6H4z"/></svg>`,
		barWidth, casebook.Percent(p), barWidth-4, p*(barWidth-8)))
}

// calibration draws what was stated against what was so, a point for each tenth with its 90 % band by chance, sized by its number.
func calibration(s score.FirstAnswer) template.HTML {
	const side, pad, right = 260.0, 34.0, 14.0
	at := func(v float64) float64 { return pad + v*(side-pad-right) }
	up := func(v float64) float64 { return side - at(v) }
	var b, words strings.Builder
	fmt.Fprintf(&words, "Stated against observed, by tenths: ")
	for _, bin := range s.Bins {
		if bin.N == 0 {
			continue
		}
		fmt.Fprintf(&words, "%d answers stated %s, so %s; ", bin.N, casebook.Percent(bin.Stated), casebook.Percent(bin.Share()))
		r := 2.5 + 5*float64(bin.N)/float64(max(1, s.N))
		fmt.Fprintf(&b, `<circle class="point" cx="%.1f" cy="%.1f" r="%.1f"/>`, at(bin.Stated), up(bin.Share()), r)
	}
	grid := ""
	for _, v := range []float64{0, 0.5, 1} {
		grid += fmt.Sprintf(`<text x="%.1f" y="%.1f" text-anchor="middle">%.0f</text><text x="%.1f" y="%.1f" text-anchor="end">%.0f</text>`,
			at(v), side-14, 100*v, pad-6, up(v)+4, 100*v)
	}
	return template.HTML(fmt.Sprintf(`<svg class="chart" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`+
		`<path class="scale" d="M%.1f %.1fV%.1fH%.1f"/><path class="even" d="M%.1f %.1fL%.1f %.1f"/>%s%s`+
		`<text x="%.1f" y="%.1f" text-anchor="middle">stated, %%</text></svg>`,
		side, side+6, template.HTMLEscapeString(words.String()), at(0), up(1), up(0), at(1), at(0), up(0), at(1), up(1), grid, b.String(),
		at(0.5), side+3))
}

// strip draws what others measured, a row of points for each group on one scale. A reading of one's own is marked below.
func strip(m kb.Measured, reading *float64) template.HTML {
	scale, ok := m.Scale(reading)
	if !ok {
		return ""
	}
	x := func(v float64) float64 { return 8 + scale.At(v)*304 }
	var b, words strings.Builder
	for i, g := range m.Groups {
		y := 12 + 22*i
		fmt.Fprintf(&b, `<path class="scale" d="M4 %dH316"/>`, y+7)
		fmt.Fprintf(&words, "%s: ", g.Group)
		for _, p := range g.Points {
			if p.Value != nil {
				fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%d" r="4"/>`, map[bool]string{true: "faulty", false: "point"}[g.Group == kb.MeasuredFaulty], x(*p.Value), y)
				fmt.Fprintf(&words, "%.4g, ", *p.Value)
			}
		}
	}
	height := 22*len(m.Groups) + 18
	if reading != nil {
		fmt.Fprintf(&b, `<path class="span" d="M%.1f 2V%d"/>`, x(*reading), height-16)
		fmt.Fprintf(&words, "this reading %.4g", *reading)
	}
	under := fmt.Sprintf("%.4g to %.4g %s", scale.Low, scale.High, m.Unit)
	if scale.Logs {
		under += ", logarithmic"
	}
	return template.HTML(fmt.Sprintf(`<svg class="strip" viewBox="0 0 320 %d" role="img" aria-label="%s">%s<text x="4" y="%d">%s</text></svg>`,
		height, template.HTMLEscapeString(words.String()+under), b.String(), height-2, template.HTMLEscapeString(under)))
}
