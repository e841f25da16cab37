package casebook_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func draftRecord(id, facts string) string {
	return `{"v":1,"id":"` + id + `","state":"draft","machine":{"make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"status":"open"` + facts + `}`
}

func TestTheQueueShowsTheMostDoubtfulFirst(t *testing.T) {
	b := open(t, t.TempDir())
	doubts := `,"doubts":[{"about":"case","question":"Which year?"}]`
	_, err := b.Import(t.Context(), vera, records(
		draftRecord("a-sure", `,"tests":[{"step":1,"test":"visual inspection","component":"heater fuse","result":"pass","confidence":0.9}]`),
		draftRecord("b-plain", ``),
		draftRecord("c-unsure", `,"tests":[{"step":1,"test":"visual inspection","component":"heater fuse","result":"pass","confidence":0.9},{"step":2,"test":"visual inspection","component":"heater relay","result":"pass","confidence":0.4}]`),
		draftRecord("d-doubt", `,"tests":[{"step":1,"test":"visual inspection","component":"heater fuse","result":"pass","confidence":0.9}]`+doubts),
		closedRecord("e-published", "heater relay"),
	), casebook.ImportOptions{})
	require.NoError(t, err)
	ids := func(q casebook.Queue) (out []kb.CaseID) {
		for _, w := range q.Waiting {
			out = append(out, w.ID)
		}
		return out
	}
	q, err := b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	assert.Equal(t, []kb.CaseID{"d-doubt", "b-plain", "c-unsure", "a-sure"}, ids(q))
	assert.Equal(t, 4, q.Total)
	assert.Equal(t, 1, q.Doubts)
	q, err = b.Queue(t.Context(), 2, 1)
	require.NoError(t, err)
	assert.Equal(t, []kb.CaseID{"b-plain", "c-unsure"}, ids(q))
	assert.Equal(t, 4, q.Total)
}

// A later reading of a published case waits in the same queue.
func TestTheQueueHoldsLaterReadings(t *testing.T) {
	b := open(t, t.TempDir())
	id := add(t, b, true, page(1, asks, advises, tries))[0].Case.ID
	q, err := b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	assert.Empty(t, q.Waiting)
	add(t, b, false, page(1, asks, advises, tries, cures))
	q, err = b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	require.Len(t, q.Waiting, 1)
	assert.Equal(t, id, q.Waiting[0].ID)
	assert.True(t, q.Waiting[0].Later)
	assert.Equal(t, kb.Closed, q.Waiting[0].Case.Status)
}
