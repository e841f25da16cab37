package link_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ruledout/kb/link"
)

// labels reads a clustering: clusters parted by spaces, items as letters, the truth by their order in the key.
func labels(key, response string) (truth, found []int) {
	ofItem := map[rune]int{}
	for n, cluster := range strings.Fields(key) {
		for _, item := range cluster {
			ofItem[item] = n
		}
	}
	for n, cluster := range strings.Fields(response) {
		for _, item := range cluster {
			truth, found = append(truth, ofItem[item]), append(found, n)
		}
	}
	return truth, found
}

// Bagga and Baldwin 1998, and the figure of Amigo et al. 2009 as worked in github.com/inna-vogel/bcubed_measure; the pairs by definition.
func TestPublishedClusterings(t *testing.T) {
	const bagga = "12345 67 89ABC"
	for name, c := range map[string]struct {
		key, response          string
		bp, br, bf, pp, pr, pf float64
	}{
		"response 1": {bagga, "12345 6789ABC", 0.761904762, 1, 0.864864865, 0.677419355, 1, 0.807692308},
		"response 2": {bagga, "1234589ABC 67", 0.583333333, 1, 0.736842105, 0.456521739, 1, 0.626865672},
		"Amigo":      {"abcd efg hijklmn", "abcde fghijk l m n", 0.695238, 0.598639, 0.643333, 0.52, 0.433333333, 0.472727273},
	} {
		truth, found := labels(c.key, c.response)
		b, p := link.BCubed(truth, found), link.Pairwise(truth, found)
		assert.InDelta(t, c.bp, b.Precision, 1e-6, name)
		assert.InDelta(t, c.br, b.Recall, 1e-6, name)
		assert.InDelta(t, c.bf, b.F, 1e-6, name)
		assert.InDelta(t, c.pp, p.Precision, 1e-6, name)
		assert.InDelta(t, c.pr, p.Recall, 1e-6, name)
		assert.InDelta(t, c.pf, p.F, 1e-6, name)
	}
}

// Changing truth and answer changes precision and recall; the right clustering has no fault, whatever the clusters are called.
func TestClusterMeasuresKeepTheLaws(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 20).Draw(rt, "items")
		clusters := rapid.SliceOfN(rapid.IntRange(0, 5), n, n)
		truth, found := clusters.Draw(rt, "truth"), clusters.Draw(rt, "found")
		for _, of := range []func(a, b []int) link.Agreement{link.BCubed, link.Pairwise} {
			x, y := of(truth, found), of(found, truth)
			assert.InDelta(rt, x.Precision, y.Recall, 1e-12)
			assert.InDelta(rt, x.F, y.F, 1e-12)
			renamed := make([]int, n)
			for i, c := range truth {
				renamed[i] = 100 - c
			}
			same := of(truth, renamed)
			assert.InDelta(rt, 1, same.F, 1e-12)
		}
	})
}

func TestClustersAreChains(t *testing.T) {
	assert.Equal(t, []int{0, 1, 0, 3, 0}, link.Clusters(5, [][2]int{{2, 4}, {0, 4}}))
}

// Leskovec, Rajaraman and Ullman, Mining of Massive Datasets, section 3.3.5 and exercise 3.3.2.
func TestPublishedMinHash(t *testing.T) {
	sets := [][]uint64{{0, 3}, {2}, {1, 3, 4}, {0, 2, 3}}
	two := []link.Hash{{A: 1, B: 1, P: 5}, {A: 3, B: 1, P: 5}}
	var s [][]uint32
	for _, set := range sets {
		s = append(s, link.Signature(set, two))
	}
	assert.Equal(t, [][]uint32{{1, 0}, {3, 2}, {0, 0}, {1, 0}}, s)
	assert.InDelta(t, 1, link.Overlap(s[0], s[3]), 0)
	assert.InDelta(t, 0.5, link.Overlap(s[0], s[2]), 0)
	assert.InDelta(t, 0, link.Overlap(s[0], s[1]), 0)
	for i, want := range [][]uint32{{0, 3}, {3, 0}, {0, 1}, {0, 0}} {
		assert.Equal(t, want, link.Signature(sets[i], []link.Hash{{A: 2, B: 4, P: 5}, {A: 3, B: 4, P: 5}}), "h4 = 3x - 1")
	}
}

// The estimate of an overlap is right within its standard error, 1/(2 sqrt n), by five of them.
func TestOverlapIsEstimated(t *testing.T) {
	hashes := link.Hashes(256)
	for _, shared := range []int{0, 20, 50, 80, 100} {
		var a, b []uint64
		for i := range 100 {
			a = append(a, uint64(i)*7919)
			if i < shared {
				b = append(b, uint64(i)*7919)
			} else {
				b = append(b, uint64(i)*7919+1_000_003)
			}
		}
		want := float64(shared) / float64(200-shared)
		assert.InDelta(t, want, link.Overlap(link.Signature(a, hashes), link.Signature(b, hashes)), 5.0/32, "%d shared", shared)
	}
}

// Word pairs of NLTK's test_distance.py.
func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		n    int
	}{{"rain", "shine", 3}, {"acbdef", "abcdef", 2}, {"lnaguaeg", "language", 4}, {"wants", "wasp", 3}, {"wants", "swim", 5}, {"", "ab", 2}} {
		assert.Equal(t, c.n, link.EditDistance(c.a, c.b), "%s %s", c.a, c.b)
		assert.Equal(t, c.n, link.EditDistance(c.b, c.a), "%s %s", c.b, c.a)
	}
}

func TestPlaces(t *testing.T) {
	for _, c := range []struct{ a, b, want string }{
		{"#2 intake leaking", "#4 intake leaking", "different"},
		{"misfire on cylinder 2", "cyl. 2 misfires", "same"},
		{"misfire on cylinder 2", "cylinder 4 misfire", "different"},
		{"replaced the #2 injector", "new injector on cylinder two", "untold"},
		{"replaced the #2 injector", "injector 4 replaced", "different"},
		{"cylinders 2 and 4", "cylinder 4", "partly"},
		{"2nd cylinder", "cylinder 2", "same"},
		{"left front wheel speed sensor", "LF wheel sensor", "same"},
		{"left front wheel speed sensor", "right front wheel speed sensor", "different"},
		{"left front wheel speed sensor", "front wheel sensor", "same"},
		{"bank 1 sensor 2", "B1S2 replaced", "same"},
		{"bank 1 sensor 1", "bank 1 sensor 2", "different"},
		{"fuse 14 blown", "fuse 22 blown", "different"},
		{"relay K7", "relay K3", "different"},
		{"it came back right away and I left it", "left door", "untold"},
		{"sensor 5 V supply", "sensor 2", "untold"},
		{"no heat", "no cold start", "untold"},
		{"upper hose", "lower hose", "different"},
	} {
		assert.Equal(t, c.want, link.PlaceOf(c.a, c.b), "%s / %s", c.a, c.b)
		assert.Equal(t, c.want, link.PlaceOf(c.b, c.a), "%s / %s", c.b, c.a)
	}
}
