package ingest_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/ingest"
)

// Every row of the tables of cues is read in its own example: the examples are there for the reader and must not lie.
func TestCueExamplesAreRead(t *testing.T) {
	for _, e := range ingest.CueExamples() {
		t.Run(e[1], func(t *testing.T) { assert.Contains(t, reader().ClassesIn(e[1]), e[0]) })
	}
}
