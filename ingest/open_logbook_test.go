package ingest_test

import (
	"encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/testkit"
	"ruledout/kb"
)

// TestLogbookAgreement reads the lines of a maintenance logbook (MaintNet, University of North Dakota: 3,084 lines) and holds what it reads of the
// action against an annotation of part and verb, which is rough and partly automatic: a guide, not a truth. Lines whose annotated verb is
// no repair (ran, checked, inspected) or that name no part are left out. A part agrees if it has the annotated head word; a bare
// "gasket" stands for the gasket that the finding names. The bars are what was reached less two points.
func TestLogbookAgreement(t *testing.T) {
	f, err := os.Open(testkit.Shared(t, "data", "logbook", "logbook.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	x := ingest.NewExtractor(v)
	lines, parts, verbs, both, none := 0, 0, 0, 0, 0
	for _, row := range rows[1:] {
		problem, action, part, tag := row[1], row[2], row[4], row[5]
		want := taggedActions(v, tag)
		if len(want) == 0 || strings.TrimSpace(part) == "" {
			continue
		}
		lines++
		var fixes []kb.Fix
		for _, c := range x.Extract(rowOf("found="+problem, "done="+action)) {
			fixes = append(fixes, c.Fixes...)
		}
		samePart := slices.ContainsFunc(fixes, func(fx kb.Fix) bool { return namesPart(fx.Component, part) })
		sameVerb := slices.ContainsFunc(fixes, func(fx kb.Fix) bool { return slices.Contains(want, fx.Action) })
		parts, verbs = parts+one01(samePart), verbs+one01(sameVerb)
		both, none = both+one01(samePart && sameVerb), none+one01(len(fixes) == 0)
	}
	t.Logf("logbook: %d lines with an annotated repair and part: part %.3f, verb %.3f, both %.3f; %d without a repair read", lines, share(parts, lines), share(verbs, lines), share(both, lines), none)
	assert.Greater(t, share(parts, lines), 0.914)
	assert.Greater(t, share(verbs, lines), 0.944)
}

// taggedActions gives the actions of an annotated verb ("REMOVED & REPLACED, CLEANED"); "removed" alone is none.
func taggedActions(v *kb.Vocabulary, tag string) []kb.Action {
	var out []kb.Action
	for _, piece := range strings.Split(tag, ",") {
		for _, verb := range append([]string{piece}, strings.Split(piece, "&")...) {
			if a, ok := v.Action(strings.TrimSpace(verb)); ok && a != kb.Other && !slices.Contains(out, a) {
				out = append(out, a)
			}
		}
	}
	return out
}

// namesPart tells whether a component has the head word of one of the annotated parts.
func namesPart(component, annotated string) bool {
	own := strings.Fields(kb.Fold(component))
	for _, part := range strings.FieldsFunc(annotated, func(r rune) bool { return r == ',' || r == '&' }) {
		words := strings.Fields(kb.Fold(part))
		if len(words) > 0 && slices.Contains(own, words[len(words)-1]) {
			return true
		}
	}
	return false
}

func one01(ok bool) int {
	if ok {
		return 1
	}
	return 0
}
