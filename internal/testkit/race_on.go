//go:build race

package testkit

// raceDetector tells whether the tests run with the race detector, which makes long measurements ten times longer.
const raceDetector = true
