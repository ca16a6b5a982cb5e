//go:build race

package storetest

// RaceDetector says that the race detector slows what the tests run, and every
// program that they start, down many times: samples are smaller then.
const RaceDetector = true
