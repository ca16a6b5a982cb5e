package web

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// The least contrast of text and of marks against what they stand on: WCAG 2.2,
// success criteria 1.4.3 and 1.4.11.
const (
	leastForText = 4.5
	leastForMark = 3.0
)

// How the stylesheet uses its colours. A test holds every rule to these lists,
// so that the pairs made of them are all that a page can show.
var (
	grounds    = []string{"paper", "sheet", "band"}
	textInks   = []string{"ink", "ink-soft", "stone-text", "petrol-text"}
	markInks   = []string{"ink", "aubergine", "ochre", "petrol", "stone"}
	darkInks   = []string{"paper"} // of text and marks on the dark grounds
	darkGround = []string{"ink", "aubergine"}
)

// Colour is one of the stylesheet's.
type Colour struct{ Name, Hex string }

// Contrast is how far two colours that meet on a page are apart.
type Contrast struct {
	Fore, Ground string
	Text         bool // writing; else a mark
	Ratio        float64
}

// Least is how far apart they must be.
func (c Contrast) Least() float64 {
	if c.Text {
		return leastForText
	}
	return leastForMark
}

// Words writes the ratio as people do: "13.9 : 1". It is cut, not rounded, so
// that it never claims more than there is.
func (c Contrast) Words() string {
	return strconv.FormatFloat(math.Floor(c.Ratio*10)/10, 'f', 1, 64) + " : 1"
}

var colourRule = regexp.MustCompile(`--([a-z-]+): (#[0-9A-F]{6});`)

// palettes are the colours of the stylesheet in order, first as the screen shows
// them, then as each later :root block changes them: on paper, and for those
// who ask for more contrast.
func palettes(css string) [][]Colour {
	var out [][]Colour
	for _, block := range strings.Split(css, ":root {")[1:] {
		block, _, _ = strings.Cut(block, "}")
		var colours []Colour
		if len(out) > 0 {
			colours = slices.Clone(out[0])
		}
		for _, m := range colourRule.FindAllStringSubmatch(block, -1) {
			c := Colour{Name: m[1], Hex: m[2]}
			if i := slices.IndexFunc(colours, func(o Colour) bool { return o.Name == c.Name }); i >= 0 {
				colours[i] = c
			} else {
				colours = append(colours, c)
			}
		}
		out = append(out, colours)
	}
	return out
}

// contrasts are all pairs of a palette that may meet.
func contrasts(palette []Colour) ([]Contrast, error) {
	hex := map[string]string{}
	for _, c := range palette {
		hex[c.Name] = c.Hex
	}
	var out []Contrast
	for _, use := range []struct {
		fore, ground []string
		text         bool
	}{{textInks, grounds, true}, {markInks, grounds, false}, {darkInks, darkGround, true}} {
		for _, fore := range use.fore {
			for _, ground := range use.ground {
				ratio, err := contrast(hex[fore], hex[ground])
				if err != nil {
					return nil, fmt.Errorf("%s on %s: %w", fore, ground, err)
				}
				out = append(out, Contrast{Fore: fore, Ground: ground, Text: use.text, Ratio: ratio})
			}
		}
	}
	return out, nil
}

// contrast is the contrast ratio of two colours, 1 to 21, by WCAG 2.2.
func contrast(a, b string) (float64, error) {
	x, err := luminance(a)
	if err != nil {
		return 0, err
	}
	y, err := luminance(b)
	if err != nil {
		return 0, err
	}
	return (max(x, y) + 0.05) / (min(x, y) + 0.05), nil
}

// luminance is the relative luminance of a colour written as #RRGGBB, 0 to 1.
func luminance(hex string) (float64, error) {
	v, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		return 0, fmt.Errorf("%q is not a colour", hex)
	}
	part := func(shift uint) float64 {
		c := float64(v>>shift&0xFF) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0), nil
}
