package casebook_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/internal/casebook"
)

// Only 0 and 1 are printed as such, however near a probability comes; "10.0 %" and "100.0 %" are never printed.
func TestPercent(t *testing.T) {
	for p, want := range map[float64]string{
		0: "0.0 %", 1e-9: "<0.1 %", 0.001: "0.1 %", 0.0994: "9.9 %", 0.0999: "10 %", 0.1: "10 %", 0.5: "50 %",
		0.994: "99 %", 0.9951: "99.5 %", 0.99999: "99.9 %", 1: "100 %",
	} {
		assert.Equal(t, want, casebook.Percent(p), p)
	}
}
