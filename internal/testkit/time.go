package testkit

import "time"

// Seconds gives the time of one run of f, measured over at least a tenth of a second: what a benchmark sets its own figure beside.
func Seconds(f func()) float64 {
	begin, n := time.Now(), 0
	for time.Since(begin) < 100*time.Millisecond {
		f()
		n++
	}
	return time.Since(begin).Seconds() / float64(n)
}
