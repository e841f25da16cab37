package kb_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
)

func TestSymptomFeatures(t *testing.T) {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	assert.Equal(t, []string{"no cabin heat"}, v.SymptomFeatures("No cabin heat"))
	one, two := v.SymptomFeatures("#3 intake is leaking"), v.SymptomFeatures("the intakes on 2 & 4 are leaking")
	assert.Equal(t, []string{"word intak", "word leak"}, one)
	assert.Subset(t, two, one, "numbers, sides, articles and endings do not matter")
	assert.NotContains(t, v.SymptomFeatures("fan does not turn off when parked"), "word the")
	assert.Contains(t, v.SymptomFeatures("fan does not turn off when parked"), "word off")
}

func TestSymptomFeaturesNeverEmpty(t *testing.T) {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		require.NotEmpty(t, v.SymptomFeatures(rapid.String().Draw(t, "term")))
	})
}
