package main

import (
	"bytes"
	"context"
	"flag"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// The pictures are not golden: they hold today's dates, so -update leaves them alone.
var photograph = flag.Bool("pictures", false, "take the README's pictures anew")

// The size of the README's pictures: the nurse's desk.
const pictureWidth, pictureHeight = 1366, 768

// pictures are the images that the README shows, by name, each with the
// expressions that give, page by page, the address to go on to.
var pictures = map[string][]string{
	"round":  nil,
	"files":  {`"/files?outcome=held"`},
	"wear":   {`"/?tier=this_week"`, `document.querySelector("tr.wear a").href`},
	"tracks": {`"/?tier=this_month"`, `document.querySelector("tr.wear a").href`, `document.querySelector(".daypicks a").href.replace("days=1", "days=3").split("#")[0] + "#tracks"`},
}

// TestPictures sees that each picture is there and of its size. With -pictures
// it takes them anew, from an invented practice.
func TestPictures(t *testing.T) {
	folder := filepath.Join(root, "testdata", "pictures")
	if *photograph {
		ctx := chromiumFor(t, 5*time.Minute)
		p := openPractice(t, 60)
		signIn(t, ctx, p)
		p.arriveAll(ctx)
		if err := os.MkdirAll(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		for name, way := range pictures {
			p.photograph(ctx, filepath.Join(folder, name+".png"), way)
		}
	}
	for name := range pictures {
		b, err := os.ReadFile(filepath.Join(folder, name+".png"))
		if err != nil {
			t.Error(err)
			continue
		}
		size, err := png.DecodeConfig(bytes.NewReader(b))
		if err != nil || size.Width != pictureWidth || size.Height != pictureHeight {
			t.Errorf("%s is %d by %d (%v)", name, size.Width, size.Height, err)
		}
	}
}

// photograph goes its way from the round and writes what the window then shows.
func (p practiceApp) photograph(ctx context.Context, file string, way []string) {
	p.t.Helper()
	visit(p.t, ctx, p.url())
	for _, next := range way {
		visit(p.t, ctx, evaluate[string](p.t, ctx, `new URL(`+next+`, location.href).href`))
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(pictureWidth, pictureHeight)); err != nil {
		p.t.Fatal(err)
	}
	image, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(file, image, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
