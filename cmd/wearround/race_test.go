//go:build race

package main

// raceDetector says that the race detector slows every program that the tests
// start down many times: samples are smaller then.
const raceDetector = true
