package link

import (
	"math"
	"math/bits"
)

// Hash is one function of a MinHash family, x -> (A x + B) mod P; with P 0 the upper half of that modulo 2^64, which is the quick way.
type Hash struct{ A, B, P uint64 }

func (h Hash) of(x uint64) uint32 {
	if h.P > 0 {
		return uint32((h.A*x + h.B) % h.P)
	}
	return uint32((h.A*x + h.B) >> 32)
}

// hashCount functions in bands of bandRows: a pair whose shingles overlap by s (Jaccard) becomes a candidate with probability
// 1 - (1 - s^4)^16, that is 0.97 at 0.7, 0.64 at 0.5 and 0.12 at 0.3.
const (
	hashCount = 64
	bandRows  = 4
)

// Hashes gives the family of n functions that records are hashed with, always the same.
func Hashes(n int) []Hash {
	out := make([]Hash, n)
	state := uint64(0)
	next := func() uint64 { // SplitMix64 (Steele, Lea and Flood 2014)
		state += 0x9e3779b97f4a7c15
		return mix(state)
	}
	for i := range out {
		out[i] = Hash{A: next() | 1, B: next()}
	}
	return out
}

func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// Signature gives the least value of each function over a set. Two sets agree in each place with the probability of their
// Jaccard overlap.
func Signature(set []uint64, hashes []Hash) []uint32 {
	out := make([]uint32, len(hashes))
	for i, h := range hashes {
		least := uint32(math.MaxUint32)
		for _, x := range set {
			least = min(least, h.of(x))
		}
		out[i] = least
	}
	return out
}

// Overlap estimates the Jaccard overlap of two sets, 0 to 1, from their signatures; standard error at most 1/(2 sqrt n).
func Overlap(a, b []uint32) float64 {
	same := 0
	for i := range a {
		if a[i] == b[i] {
			same++
		}
	}
	return float64(same) / float64(max(len(a), 1))
}

// band gives the key of one band of a signature.
func band(signature []uint32, n int) uint64 {
	key := mix(uint64(n) + 1)
	for _, x := range signature[n*bandRows : (n+1)*bandRows] {
		key = mix(bits.RotateLeft64(key, 23) ^ uint64(x))
	}
	return key
}
