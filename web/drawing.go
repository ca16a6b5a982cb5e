package web

import (
	"html/template"
	"slices"
	"strings"

	"wearround/web/form"
	"wearround/worker/wear"
)

// Picture is one drawing for one width of paper or screen; the stylesheet shows
// the one that fits.
type Picture struct {
	Class string
	SVG   template.HTML
}

// Drawing is what a page says and shows of one matter: sentences first, then
// the picture, then how it is read. Without a picture the sentences say why.
type Drawing struct {
	Says     []string
	Pictures []Picture
	Key      string
}

// extent is a width in pixels and the class that shows what is drawn for it.
type extent struct {
	class string
	width int
}

// whole are the widths of a picture that has the page to itself, half those of
// one that shares it with another.
var (
	whole = []extent{{"wide", 1240}, {"middle", 720}, {"slim", 310}}
	half  = []extent{{"half-wide", 596}, {"half-slim", 310}}
)

// draw makes a picture once for each width. Charts escape their own texts.
func draw(name string, sizes []extent, chart func(id string, width int) string) []Picture {
	out := make([]Picture, len(sizes))
	for i, s := range sizes {
		out[i] = Picture{Class: s.class, SVG: template.HTML(chart(name+"-"+s.class, s.width))}
	}
	return out
}

// remarks are the report's sentences of some kinds, or all, in its order.
func remarks(list []wear.Remark, codes ...string) []string {
	var out []string
	for _, r := range list {
		if len(codes) == 0 || slices.Contains(codes, r.Code) {
			out = append(out, form.Sentence(r.Text))
		}
	}
	return out
}

// drawnRemarks are the sentences that stand over a picture or table of their
// own.
var drawnRemarks = []string{"like_meals", "meals", "dawn", "fasting", "exercise"}

// Explained are the report's sentences that no part of the page is headed by.
func (p WearPage) Explained() []wear.Remark {
	return slices.DeleteFunc(slices.Clone(p.Report.Explained), func(r wear.Remark) bool {
		return slices.Contains(drawnRemarks, r.Code)
	})
}

// ExerciseSays are the sentences about exercise.
func (p WearPage) ExerciseSays() []string { return remarks(p.Report.Explained, "exercise") }

// finding is the report's sentences as a picture's text alternative opens.
func finding(says []string) string { return strings.Join(says, " ") }
