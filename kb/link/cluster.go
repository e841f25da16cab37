package link

// Agreement says how well a clustering fits the true one; each from 0 to 1, F the harmonic mean of the others.
type Agreement struct{ Precision, Recall, F float64 }

func agreement(precision, recall float64) Agreement {
	a := Agreement{Precision: precision, Recall: recall}
	if precision+recall > 0 {
		a.F = 2 * precision * recall / (precision + recall)
	}
	return a
}

// BCubed compares a clustering with the true one, both as a number of the cluster for each item, item by item: the share of an item's
// cluster that belongs with it, and the share of what belongs with it that is in its cluster, each averaged (Bagga and Baldwin 1998).
func BCubed(truth, found []int) Agreement {
	both, ofTruth, ofFound := overlaps(truth, found)
	var p, r float64
	for i := range truth {
		n := float64(both[[2]int{truth[i], found[i]}])
		p += n / float64(ofFound[found[i]])
		r += n / float64(ofTruth[truth[i]])
	}
	if len(truth) == 0 {
		return agreement(1, 1)
	}
	return agreement(p/float64(len(truth)), r/float64(len(truth)))
}

// Pairwise compares a clustering with the true one by the pairs of items that each puts together. Of no pairs nothing is wrong.
func Pairwise(truth, found []int) Agreement {
	both, ofTruth, ofFound := overlaps(truth, found)
	right, wanted, given := 0, 0, 0
	for _, n := range both {
		right += n * (n - 1) / 2
	}
	for _, n := range ofTruth {
		wanted += n * (n - 1) / 2
	}
	for _, n := range ofFound {
		given += n * (n - 1) / 2
	}
	return agreement(ratio(right, given), ratio(right, wanted))
}

func ratio(part, whole int) float64 {
	if whole == 0 {
		return 1
	}
	return float64(part) / float64(whole)
}

func overlaps(truth, found []int) (both map[[2]int]int, ofTruth, ofFound map[int]int) {
	both, ofTruth, ofFound = map[[2]int]int{}, map[int]int{}, map[int]int{}
	for i := range truth {
		both[[2]int{truth[i], found[i]}]++
		ofTruth[truth[i]]++
		ofFound[found[i]]++
	}
	return both, ofTruth, ofFound
}

// Clusters gives each of n items the number of its cluster, where pairs put items together, in chains. A cluster has the number of
// its first item.
func Clusters(n int, pairs [][2]int) []int {
	root := make([]int, n)
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for _, p := range pairs {
		a, b := find(p[0]), find(p[1])
		root[max(a, b)] = min(a, b)
	}
	for i := range root {
		root[i] = find(i)
	}
	return root
}
