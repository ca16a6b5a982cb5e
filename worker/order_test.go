package worker

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"wearround/store"
)

// low is an export in which 17 readings are 2.4.
func low(export string) string {
	lines := strings.Split(export, "\n")
	for i := 400; i < 417; i++ {
		lines[i] = lines[i][:strings.LastIndex(lines[i], ",")] + ",2.4"
	}
	return strings.Join(lines, "\n")
}

// A low that only one of two exports has is asked about, whichever came first,
// and the answer decides.
func TestExportsThatDifferInALow(t *testing.T) {
	plain := export(1, 14, 0)
	with := low(plain)
	for _, order := range [][2]string{{plain, with}, {with, plain}} {
		for _, answer := range []string{"these", "those"} {
			b := newBench(t, "P-1")
			write(t, b.Drop, "P-1_a.csv", order[0])
			b.settleAndLook()
			write(t, b.Drop, "P-1_b.csv", order[1])
			b.settleAndLook()
			d := b.want("P-1_b.csv", store.Held, valuesCode)
			if err := b.store.Answer(context.Background(), d.FileID, map[string]string{valuesCode: answer}); err != nil {
				t.Fatal(err)
			}
			b.look(context.Background())
			id := b.wearOf(b.want("P-1_b.csv", store.Filed, "")).ID
			readings, _, err := b.store.Trace(context.Background(), id)
			if err != nil {
				t.Fatal(err)
			}
			lows := 0
			for _, r := range readings {
				if r.Text() == "2.4" {
					lows++
				}
			}
			kept := map[string]string{"these": order[1], "those": order[0]}[answer] == with
			if (lows == 17) != kept || lows != 0 && lows != 17 {
				t.Errorf("answered %s: %d lows, kept %t", answer, lows, kept)
			}
		}
	}
}

// Two exports that differ in single readings are the same wear in either order.
func TestOrderOfExportsThatDifferALittle(t *testing.T) {
	plain := export(1, 14, 0)
	lines := strings.Split(plain, "\n")
	for i := 100; i < 4000; i += 500 {
		lines[i] = lines[i][:strings.LastIndex(lines[i], ",")] + fmt.Sprintf(",%d.%d", 5, i/500)
	}
	other := strings.Join(lines, "\n")
	var texts []string
	for _, order := range [][2]string{{plain, other}, {other, plain}} {
		b := newBench(t, "P-1")
		for i, text := range order {
			write(t, b.Drop, fmt.Sprintf("P-1_%d.csv", i), text)
			b.settleAndLook()
		}
		readings, _, err := b.store.Trace(context.Background(), b.wearOf(b.want("P-1_1.csv", store.Filed, "")).ID)
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, r := range readings {
			text += r.Text() + " "
		}
		texts = append(texts, text)
	}
	if texts[0] != texts[1] {
		t.Error("the order of two exports decided what the wear holds")
	}
}

// Two weekly exports that touch and do not overlap are one wear, in any order.
func TestTouchingExportsAreOneWear(t *testing.T) {
	lines := strings.SplitAfter(export(1, 14, 0), "\n")
	parts := []string{
		lines[0] + strings.Join(lines[1:1+5*288], ""), lines[0] + strings.Join(lines[1+5*288:1+10*288], ""), lines[0] + strings.Join(lines[1+10*288:], ""),
	}
	for _, order := range [][]int{{0, 1, 2}, {2, 0, 1}, {2, 1, 0}} {
		b := newBench(t, "P-1")
		for _, i := range order {
			write(t, b.Drop, fmt.Sprintf("P-1_%d.csv", i), parts[i])
			b.settleAndLook()
		}
		who, err := b.store.PatientByCode(context.Background(), "P-1")
		if err != nil {
			t.Fatal(err)
		}
		wears, err := b.store.WearsOf(context.Background(), who.ID)
		if err != nil || len(wears) != 1 || wears[0].Readings != 14*288 {
			t.Errorf("in the order %v: %d wears, %v", order, len(wears), err)
		}
	}
}
