package main

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wearround/store"
	"wearround/worker/wear"
)

// plain files a routine wear of somebody who was asked, and wrote down what is
// given, in the hours from the first of its second day on.
func (p practiceApp) plain(n int, notes ...string) {
	p.t.Helper()
	ctx, now := context.Background(), time.Now()
	who := store.Patient{
		Code: fmt.Sprintf("R-%03d", n), Name: fmt.Sprintf("Lumo Tevi %d", n), BirthDate: "1970-02-03",
		Context: wear.Context{BirthYear: 1970, AskedOn: now.Format(time.DateOnly)},
	}
	if err := p.store.AddPatients(ctx, []store.Patient{who}); err != nil {
		p.t.Fatal(err)
	}
	who, err := p.store.PatientByCode(ctx, who.Code)
	if err != nil {
		p.t.Fatal(err)
	}
	start := now.AddDate(0, 0, -14).Truncate(5 * time.Minute).Add(time.Duration(n) * time.Second)
	var list []wear.Reading
	for i := range 14 * 288 {
		at := start.Add(time.Duration(i) * 5 * time.Minute)
		v := 5.4 + 0.9*math.Sin(float64(i)/30+float64(n)) + 0.2*math.Sin(float64(i*n)/7)
		list = append(list, wear.Reading{At: at.Unix(), Num: int64(math.Round(v * 10)), Scale: 1, Unit: wear.MmolL})
	}
	var events []wear.Event
	for i, text := range notes {
		events = append(events, wear.Event{At: start.Add(time.Duration(25+i) * time.Hour).Unix(), Kind: wear.Note, Label: text})
	}
	_, _, err = p.store.File(ctx, store.Filing{
		Drop:   store.Drop{Path: who.Code + ".csv", Size: int64(len(list)), ModTime: now, SeenAt: now},
		SHA256: fmt.Sprintf("%064d", n+1), Layout: "time,glucose", PatientID: who.ID, Rows: len(list),
		Wears: []store.WearFiling{{SensorKind: "A", Readings: list, Events: events, New: len(list)}},
	})
	if err != nil {
		p.t.Fatal(err)
	}
}

// TestTwentyBeforeLunch works twenty routine wears to an outcome and a printed
// letter each, and counts what that takes: a key a line, none unread.
func TestTwentyBeforeLunch(t *testing.T) {
	const wears, most = 20, 30
	ctx := chromium(t)
	p := openPractice(t, 20)
	for n := range wears {
		p.plain(n + 1)
	}
	signIn(t, ctx, p)
	acts := 0
	act := func(do chromedp.Action[chromedp.Void]) {
		t.Helper()
		acts++
		if err := chromedp.Do(ctx, do); err != nil {
			t.Fatal(err)
		}
	}
	click := func(selector string) {
		t.Helper()
		acts++
		if _, err := chromedp.RunResponse(ctx, chromedp.Click(selector)); err != nil {
			t.Fatalf("%s: %v", selector, err)
		}
	}
	click(`nav a[href="/sheet"]`)
	if n := js[int](t, ctx, `document.querySelectorAll("input[name=told]:not(:disabled)").length`); n != wears {
		t.Fatalf("%d wears on the sheet, want %d: %s", n, wears, js[string](t, ctx, `document.querySelector("main").innerText`))
	}
	js[bool](t, ctx, `!!document.querySelector("tr.current")`) // the keys are heard
	for range wears {
		act(chromedp.KeyEvent("j"))
	}
	js[bool](t, ctx, `document.activeElement.id === "sign"`)
	acts++
	if _, err := chromedp.RunResponse(ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
	click(`.signed a.primary`)
	click(`form[action="/outbox/print"] button`)
	if n := js[int](t, ctx, `document.querySelectorAll(".run .paper-sheet:not(.two-weeks)").length`); n != wears {
		t.Errorf("%d letters in the print run, want %d", n, wears)
	}
	acts++ // the browser's own print
	t.Logf("%d keys and clicks for %d routine wears with letters; the least is a key a wear to read it, and one to sign", acts, wears)
	if acts > most {
		t.Errorf("%d keys and clicks, want at most %d", acts, most)
	}
}
