// Package face holds the program's own typefaces and the room that their
// letters take, so that a screen, a print and a picture are the same on every
// machine, whatever fonts it has.
//
// The faces are those made for the Go project, under its licence.
package face

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Files are the typefaces as TrueType, by the names under which the stylesheet
// asks for them.
func Files() map[string][]byte {
	return map[string][]byte{"regular.ttf": goregular.TTF, "bold.ttf": gobold.TTF, "mono.ttf": gomono.TTF}
}

// Width is the room that a text needs on one line, unkerned, in parts of the
// font's size: that of the wider of regular and bold. A letter that the faces
// lack is drawn by whatever the machine has and is given 1.3, more than any of
// the common scripts needs.
func Width(text string) float64 {
	em := 0.0
	for _, r := range text {
		if w, ok := advances()[r]; ok {
			em += w
		} else {
			em += 1.3
		}
	}
	return em
}

// advances are the widths of the letters that both faces hold, read once. No
// letter of theirs lies beyond lastLetter; a test holds that.
var advances = sync.OnceValue(func() map[rune]float64 {
	out := map[rune]float64{}
	regular, bold := advancesOf(goregular.TTF), advancesOf(gobold.TTF)
	for r, w := range regular {
		if b, ok := bold[r]; ok {
			out[r] = max(w, b)
		}
	}
	return out
})

// lastLetter is where the search for letters ends: the last of Unicode's
// symbols and arrows, before the scripts that the faces do not hold.
const lastLetter = 0x2BFF

// advancesOf reads the widths of a face's letters. The faces are part of the
// program, so one that cannot be read is a fault of the build.
func advancesOf(ttf []byte) map[rune]float64 {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("face: " + err.Error())
	}
	var b sfnt.Buffer
	em := fixed.I(int(f.UnitsPerEm()))
	out := map[rune]float64{}
	for r := ' '; r <= lastLetter; r++ {
		glyph, err := f.GlyphIndex(&b, r)
		if err != nil || glyph == 0 {
			continue
		}
		if a, err := f.GlyphAdvance(&b, glyph, em, font.HintingNone); err == nil {
			out[r] = float64(a) / float64(em)
		}
	}
	return out
}
