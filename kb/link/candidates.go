package link

import (
	"cmp"
	"slices"
)

// Bounds of the blocks of records that share a key.
const (
	MaxBlock = 32 // up to here all pairs are candidates
	Window   = 6  // beyond, so many next neighbours in each order
)

// Pair names two records by their place in a list, the one with the lesser id first.
type Pair struct{ A, B int }

// keyed is a record with a key that it shares with its block.
type keyed struct {
	key uint64
	at  int32
}

// Candidates gives the pairs of records worth comparing, each once, in order of ids; see the package's description for what makes a
// candidate and for the bound on blocks. Cases of one write-up are different tellers, and so no candidates, unless teller and machine are equal.
func Candidates(records []Record) []Pair {
	c := collector{records: records, rank: ranks(records)}
	var shared []keyed
	for i := range records {
		for _, k := range keysOf(&records[i]) {
			shared = append(shared, keyed{k, int32(i)})
		}
	}
	c.blocks(shared)
	list := make([]keyed, 0, len(records))
	for n := range hashCount / bandRows {
		list = list[:0]
		for i := range records {
			if len(records[i].words) >= fewWords {
				list = append(list, keyed{band(records[i].signature, n), int32(i)})
			}
		}
		c.blocks(list)
		c.compact()
	}
	c.rare()
	c.compact()
	return c.inOrder()
}

// rareBlock is how many records at most make a word or a reading a ground to compare them.
const rareBlock = 4

// rare pairs the records that share a word or a reading that hardly any other record has.
func (c *collector) rare() {
	var list []keyed
	for i := range c.records {
		for _, w := range c.records[i].words {
			list = append(list, keyed{w, int32(i)})
		}
		for _, x := range c.records[i].readings {
			of, step := x.step()
			for _, n := range []int{step, step + 1} { // equal readings may lie on neighbouring steps
				list = append(list, keyed{mix(hashOf(of) + uint64(n)), int32(i)})
			}
		}
	}
	c.eachBlock(list, func(block []keyed) {
		if len(block) <= rareBlock {
			c.block(block)
		}
	})
}

// keysOf gives the keys of the blocks that a record belongs to.
func keysOf(r *Record) []uint64 {
	var out []uint64
	add := func(kind string, what uint64, more ...string) {
		key := mix(what ^ hashOf(kind))
		for _, p := range more {
			if p == "" {
				return
			}
			key = mix(key*31 + hashOf(p))
		}
		out = append(out, key)
	}
	for _, code := range r.codes {
		add("code", code)
		add("code and make", code, r.make)
		add("code and model", code, r.model)
		add("code and figures of the model", code, digits(r.make+r.model))
		add("code and teller", code, r.teller)
	}
	for _, culprit := range r.culprits {
		add("culprit and model", culprit, r.model)
	}
	add("teller and model", 0, r.teller, r.model)
	for _, x := range r.runs { // the same figure on the same make; rounded ones are found by the others
		add("run", 0, r.make, x.of, runText(x))
	}
	return out
}

// collector gathers pairs, packed as two ranks of 32 bits, so that the order of numbers is that of ids.
type collector struct {
	records []Record
	rank    []uint32 // place of each record in order of ids
	pairs   []uint64
}

// blocks pairs the records of each key.
func (c *collector) blocks(list []keyed) { c.eachBlock(list, c.block) }

func (c *collector) eachBlock(list []keyed, do func([]keyed)) {
	slices.SortFunc(list, func(a, b keyed) int { return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.at, b.at)) })
	for from := 0; from < len(list); {
		to := from + 1
		for to < len(list) && list[to].key == list[from].key {
			to++
		}
		do(list[from:to])
		from = to
	}
}

func (c *collector) block(list []keyed) {
	if len(list) <= MaxBlock {
		for i := range list {
			for j := i + 1; j < len(list); j++ {
				c.add(list[i].at, list[j].at)
			}
		}
		return
	}
	for _, order := range []func(a, b *Record) int{byRun, byDate, byTeller, byWords} {
		slices.SortFunc(list, func(a, b keyed) int {
			x, y := &c.records[a.at], &c.records[b.at]
			return cmp.Or(order(x, y), cmp.Compare(x.ID, y.ID))
		})
		for i := range list {
			for j := i + 1; j < min(i+1+Window, len(list)); j++ {
				c.add(list[i].at, list[j].at)
			}
		}
	}
}

func byRun(a, b *Record) int {
	x, y := -1.0, -1.0
	if len(a.runs) > 0 {
		x = a.runs[0].value
	}
	if len(b.runs) > 0 {
		y = b.runs[0].value
	}
	return cmp.Compare(x, y)
}

func byDate(a, b *Record) int   { return slices.Compare(a.days, b.days) }
func byTeller(a, b *Record) int { return cmp.Compare(a.teller, b.teller) }
func byWords(a, b *Record) int  { return slices.Compare(a.signature[:1], b.signature[:1]) }

// add keeps a pair, the lesser id first.
func (c *collector) add(i, j int32) {
	a, b := &c.records[i], &c.records[j]
	if a.ID == b.ID || !MayBeOne(a, b) {
		return
	}
	x, y := c.rank[i], c.rank[j]
	c.pairs = append(c.pairs, uint64(min(x, y))<<32|uint64(max(x, y)))
}

// ranks gives each record its place in order of ids; of equal ids the first record comes first.
func ranks(records []Record) []uint32 {
	order := inverse(records)
	out := make([]uint32, len(records))
	for rank, at := range order {
		out[at] = uint32(rank)
	}
	return out
}

// inverse gives the records' places in order of ids.
func inverse(records []Record) []int {
	order := make([]int, len(records))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(records[a].ID, records[b].ID) })
	return order
}

// MayBeOne tells whether two records are worth comparing: it keeps the tellers of one thread apart, and their machines.
func MayBeOne(a, b *Record) bool {
	for _, w := range a.writeups {
		if slices.Contains(b.writeups, w) {
			return a.teller == b.teller && a.make == b.make && a.model == b.model
		}
	}
	return true
}

// compact drops what was found before, so that memory does not grow with the number of bands.
func (c *collector) compact() {
	slices.Sort(c.pairs)
	c.pairs = slices.Compact(c.pairs)
}

func (c *collector) inOrder() []Pair {
	at := inverse(c.records)
	out := make([]Pair, len(c.pairs))
	for i, p := range c.pairs {
		out[i] = Pair{at[p>>32], at[uint32(p)]}
	}
	return out
}
