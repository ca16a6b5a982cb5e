//go:build race

package store_test

// raceDetector says that the race detector slows this test down many times.
const raceDetector = true
