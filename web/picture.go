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

// shareBar draws a share of a whole beside its number, which stands in words: those who do not see it miss nothing.
func shareBar(p float64) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="share" viewBox="0 0 60 10" aria-hidden="true"><path class="scale" d="M.5 .5h59v9h-59z"/><path class="fill" d="M.5 .5h%.1fv9H.5z"/></svg>`,
		p*59))
}

// calibration draws what was stated against what was so: a point for each tenth, sized by its number, on the interval of its share.
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
		in := score.Wilson(bin.So, bin.N, score.Level)
		fmt.Fprintf(&words, "%d answers stated %s, so %s, interval %s to %s; ", bin.N, casebook.Percent(bin.Stated), casebook.Percent(bin.Share()), casebook.Percent(in.Low), casebook.Percent(in.High))
		fmt.Fprintf(&b, `<path class="scale" d="M%.1f %.1fV%.1f"/>`, at(bin.Stated), up(in.Low), up(in.High))
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
		`<text x="%.1f" y="%.1f" text-anchor="middle">stated, %%</text><text x="%.1f" y="11">so, %%</text></svg>`,
		side, side+6, template.HTMLEscapeString(words.String()), at(0), up(1), up(0), at(1), at(0), up(0), at(1), up(1), grid, b.String(),
		at(0.5), side+3, at(0)+6))
}

// strip draws what others measured, a named row of points for each group on one scale: of logarithms where the values span more than a factor
// of ten. A reading of one's own is a line through all rows with its name below.
func strip(m kb.Measured, reading *float64) template.HTML {
	scale, ok := m.Scale(reading)
	if !ok {
		return ""
	}
	at := func(v float64) float64 { return 8 + scale.At(v)*304 }
	var b, words strings.Builder
	for i, g := range m.Groups {
		y := 34 * i
		fmt.Fprintf(&b, `<text x="4" y="%d">%s</text><path class="scale" d="M4 %dH316"/>`, y+11, template.HTMLEscapeString(g.Group), y+31)
		fmt.Fprintf(&words, "%s: ", g.Group)
		class := "point"
		if g.Group == kb.MeasuredFaulty {
			class = "faulty"
		}
		for _, p := range g.Points {
			if p.Value != nil {
				fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%d" r="4"/>`, class, at(*p.Value), y+23)
				fmt.Fprintf(&words, "%.4g, ", *p.Value)
			}
		}
		if reading != nil {
			fmt.Fprintf(&b, `<path class="span" d="M%.1f %dv18"/>`, at(*reading), y+14)
		}
	}
	y := 34*len(m.Groups) + 14
	if reading != nil {
		x := at(*reading)
		fmt.Fprintf(&b, `<text x="%.1f" y="%d" text-anchor="%s">yours</text>`, x, y, anchorAt(x))
		fmt.Fprintf(&words, "this reading %.4g, ", *reading)
		y += 14
	}
	low, high, middle := fmt.Sprintf("%.4g %s", scale.Low, m.Unit), fmt.Sprintf("%.4g %s", scale.High, m.Unit), ""
	if scale.Logs {
		middle = "logarithmic"
	}
	fmt.Fprintf(&b, `<text x="4" y="%d">%s</text><text x="160" y="%d" text-anchor="middle">%s</text><text x="316" y="%d" text-anchor="end">%s</text>`,
		y, template.HTMLEscapeString(low), y, middle, y, template.HTMLEscapeString(high))
	fmt.Fprintf(&words, "on a scale from %s to %s %s", low, high, middle)
	return template.HTML(fmt.Sprintf(`<svg class="strip" viewBox="0 0 320 %d" role="img" aria-label="%s">%s</svg>`,
		y+4, template.HTMLEscapeString(strings.TrimSpace(words.String())), b.String()))
}

// anchorAt tells on which side of its place a word stands, so that it stays within the picture.
func anchorAt(x float64) string {
	switch {
	case x < 24:
		return "start"
	case x > 296:
		return "end"
	}
	return "middle"
}
