package chart

import (
	"encoding/xml"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

// golden compares a picture with the one on file, a line an element.
func golden(t *testing.T, name, svg string) {
	t.Helper()
	got := strings.ReplaceAll(svg, "><", ">\n<") + "\n"
	file := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from its golden picture; look at it, then run with -update", name)
	}
}

// picture is an SVG read back.
type picture struct {
	width, height float64
	texts         []box
	words         []string // of the texts
	desc          string   // what stands for the picture where it cannot be seen
	named         []string // ids of title and description
	paths         map[string]string
}

func (p picture) path(class string) string { return p.paths[class] }

// box is the room that a text takes.
type box struct{ left, right, top, bottom float64 }

func (a box) overlaps(b box) bool {
	return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

type fataler interface{ Fatalf(string, ...any) }

// parseSVG reads a picture back and fails on anything that no picture may
// have: broken XML, a number that is none, a style or script of its own, a
// missing text alternative.
func parseSVG(t fataler, svg string) picture {
	out := picture{paths: map[string]string{}}
	d := xml.NewDecoder(strings.NewReader(svg))
	var element, labelled, anchor string
	var size float64
	for {
		token, err := d.Token()
		if err == io.EOF {
			if labelled == "" || labelled != strings.Join(out.named, " ") {
				t.Fatalf("labelled by %q, not by %q", labelled, out.named)
			}
			return out
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			element = token.Name.Local
			a := map[string]string{}
			for _, attr := range token.Attr {
				a[attr.Name.Local] = attr.Value
				if name := attr.Name.Local; strings.HasPrefix(name, "on") || name == "style" || strings.Contains(attr.Value, "NaN") || strings.Contains(attr.Value, "Inf") {
					t.Fatalf("%s=%q", name, attr.Value)
				}
			}
			switch element {
			case "style", "script":
				t.Fatalf("a %s element", element)
			case "title", "desc":
				out.named = append(out.named, a["id"])
			case "svg":
				out.width, out.height = float(t, a["width"]), float(t, a["height"])
				if a["role"] != "img" {
					t.Fatalf("no role: %v", a)
				}
				labelled = a["aria-labelledby"]
			case "path":
				out.paths[a["class"]] += a["d"]
			case "text":
				x, y := float(t, a["x"]), float(t, a["y"])
				size, anchor = float(t, a["font-size"]), a["text-anchor"]
				out.texts = append(out.texts, box{x, x, y - size*0.8, y + size*0.2})
				out.words = append(out.words, "")
			}
		case xml.CharData:
			switch element {
			case "desc":
				out.desc = string(token)
			case "text":
				i := len(out.texts) - 1
				out.words[i] = string(token)
				w := textWidth(out.words[i], size)
				switch anchor {
				case "end":
					out.texts[i].left -= w
				case "middle":
					out.texts[i].left -= w / 2
					out.texts[i].right += w / 2
				default:
					out.texts[i].right += w
				}
			}
		case xml.EndElement:
			element = ""
		}
	}
}

func float(t fataler, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		t.Fatalf("%q is not a number", s)
	}
	return v
}
