package sim

import (
	"math"
	"math/rand/v2"
)

// Streams of chance. Each concern of a wear draws from its own, so that a
// change to one leaves the others as they were.
const (
	streamBody = iota + 1
	streamDiary
	streamLog
	streamFaults
	streamNoise
	streamPeople
	streamPlans
	streamOddities
	_ // once used: the numbers after it stay
	streamContacts
)

// chance is a seeded source with the few distributions used here.
type chance struct{ *rand.Rand }

func newChance(seed, stream uint64) chance { return chance{rand.New(rand.NewPCG(seed, stream))} }

// between gives a uniform number from lo to hi.
func (c chance) between(lo, hi float64) float64 { return lo + (hi-lo)*c.Float64() }

// minutes gives a whole number from lo to hi, both included.
func (c chance) minutes(lo, hi int) int { return lo + c.IntN(hi-lo+1) }

// normal gives a normal number, kept within three standard deviations so that
// no invented person is absurd.
func (c chance) normal(mean, sd float64) float64 {
	return mean + sd*max(-3, min(3, c.NormFloat64()))
}

// factor gives a log-normal factor with median 1.
func (c chance) factor(sd float64) float64 { return math.Exp(c.normal(0, sd)) }

// happens is true with probability p.
func (c chance) happens(p float64) bool { return c.Float64() < p }

// pick gives one of the choices.
func pick[T any](c chance, choices []T) T { return choices[c.IntN(len(choices))] }
