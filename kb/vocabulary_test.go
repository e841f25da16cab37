package kb_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/kb"
)

func TestBuiltinVocabularyLoads(t *testing.T) {
	_, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
}
