package kb_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/kb"
)

func TestScaleOfMeasuredValues(t *testing.T) {
	for name, c := range map[string]struct {
		values  []float64
		reading float64
		want    kb.Scale
		at      float64 // of the reading
	}{
		"plain":                      {[]float64{20, 40}, 25, kb.Scale{Low: 20, High: 40}, 0.25},
		"a reading beyond the rest":  {[]float64{20, 40}, 60, kb.Scale{Low: 20, High: 60}, 1},
		"values that hardly differ":  {[]float64{100}, 100, kb.Scale{Low: 80, High: 120}, 0.5},
		"more than a factor of ten":  {[]float64{1, 10_000}, 100, kb.Scale{Low: 1, High: 10_000, Logs: true}, 0.5},
		"a factor of ten":            {[]float64{1, 10}, 1, kb.Scale{Low: 1, High: 10}, 0},
		"no logarithm of a negative": {[]float64{-1, 999}, 249, kb.Scale{Low: -1, High: 999}, 0.25},
		"nothing but zero":           {[]float64{0}, 0, kb.Scale{}, 0.5},
	} {
		t.Run(name, func(t *testing.T) {
			g := kb.MeasuredGroup{Points: []kb.MeasuredPoint{{Case: "open"}}}
			for _, v := range c.values {
				g.Points = append(g.Points, kb.MeasuredPoint{Value: &v})
			}
			s, ok := kb.Measured{Groups: []kb.MeasuredGroup{g}}.Scale(&c.reading)
			assert.True(t, ok)
			assert.Equal(t, c.want, s)
			assert.InDelta(t, c.at, s.At(c.reading), 1e-12)
		})
	}
	_, ok := kb.Measured{Groups: []kb.MeasuredGroup{{Points: []kb.MeasuredPoint{{Case: "open"}}}}}.Scale(nil)
	assert.False(t, ok, "nothing but open circuits")
}
