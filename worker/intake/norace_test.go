//go:build !race

package intake

// RaceDetector tells tests to take smaller samples.
const RaceDetector = false
