//go:build !race

package storetest

// RaceDetector is explained beside its other value.
const RaceDetector = false
