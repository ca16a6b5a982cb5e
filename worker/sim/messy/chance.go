package messy

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"math/rand/v2"

	"wearround/worker/wear"
)

// chance is a seeded source with the few distributions used here.
type chance struct{ *rand.Rand }

func newChance(seed uint64) chance { return chance{rand.New(rand.NewPCG(seed, 9))} }

// between gives a uniform number from lo to hi.
func (c chance) between(lo, hi float64) float64 { return lo + (hi-lo)*c.Float64() }

// minutes gives a whole number from lo to hi, both included.
func (c chance) minutes(lo, hi int) int { return lo + c.IntN(hi-lo+1) }

// normal gives a normal number, kept within three standard deviations.
func (c chance) normal(mean, sd float64) float64 {
	return mean + sd*max(-3, min(3, c.NormFloat64()))
}

// happens is true with probability p.
func (c chance) happens(p float64) bool { return c.Float64() < p }

// pick gives one of the choices.
func pick[T any](c chance, choices []T) T { return choices[c.IntN(len(choices))] }

// rounded is a value as a sensor writes it that reports from 2.2 to 22.2 mmol/L,
// or from 40 to 400 mg/dL.
func rounded(at int64, mmol float64, u wear.Unit) wear.Reading {
	r, most := limitOf(at, u), int64(222)
	value := math.Round(mmol * 10)
	if u == wear.MgdL {
		most, value = 400, math.Round(mmol*wear.MgdlPerMmol)
	}
	switch {
	case value > float64(most):
		r.Num, r.Bound = most, wear.Above
	case value >= float64(r.Num):
		r.Num, r.Bound = int64(value), wear.Exact
	}
	return r
}

// picture is a small grey image in the PNG format.
func picture() []byte {
	const side = 32
	grey := image.NewGray(image.Rect(0, 0, side, side))
	for i := range grey.Pix {
		grey.Pix[i] = byte(4*(i%side) + 3*(i/side))
	}
	var b bytes.Buffer
	_ = png.Encode(&b, grey) // cannot fail: a buffer takes everything
	return b.Bytes()
}
