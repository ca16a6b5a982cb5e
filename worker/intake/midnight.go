package intake

import (
	"fmt"

	"wearround/worker/wear"
)

// midnights asks about rows at midnight that stand behind the evening of the date
// they bear: some diaries end a day with its last midnight, which is the first of
// the next.
func (l *ledger) midnights(t *table, g *region, times []rowTime) *wear.Refusal {
	var late []int
	for _, newestFirst := range []bool{false, true} {
		late = append(late, lateMidnights(times, newestFirst)...)
	}
	if len(late) == 0 {
		return nil
	}
	var rows []string
	for _, i := range late[:min(len(late), maxSamples)] {
		rows = append(rows, t.show(g.from+i))
	}
	switch l.ask("midnight", fmt.Sprintf("%d rows at 00:00 stand behind the evening of the day that they are dated by. Which midnight are they?", len(late)),
		wear.Choice{Value: "end", Text: "the one that ends the day", Effect: "they would be filed a day later than they are dated", Rows: rows},
		wear.Choice{Value: stated, Text: "the one that begins it", Effect: "they would be filed as they are dated", Rows: rows},
		wear.Choice{Value: "stop", Text: "not known", Effect: "the file stays out; export it again in order"}) {
	case "end":
		for _, i := range late {
			times[i].secs += 86400
		}
	case "stop":
		return setAside()
	}
	return nil
}

// lateMidnights lists the rows at midnight that come after the evening of their own
// date and before all later days.
func lateMidnights(times []rowTime, newestFirst bool) (list []int) {
	const evening = 18 * 3600
	back, midnights := 0, 0
	at := func(i int) int {
		if newestFirst {
			return len(times) - 1 - i
		}
		return i
	}
	last := -1
	for k := range times {
		i := at(k)
		if !times[i].ok || times[i].absolute {
			continue
		}
		secs := times[i].secs
		if secs%86400 == 0 {
			midnights++
		}
		if last >= 0 && secs%86400 == 0 {
			before := times[last].secs
			next := k + 1
			for next < len(times) && !times[at(next)].ok {
				next++
			}
			if before/86400 == secs/86400 && before%86400 >= evening && (next == len(times) || times[at(next)].secs > secs+86400) {
				list = append(list, i)
				continue // the row after it is measured from the evening
			}
		}
		if last >= 0 && secs < times[last].secs {
			back++
		}
		last = i
	}
	if back > 0 || 2*len(list) < midnights {
		return nil // the rows are in no order that a day could end in
	}
	return list
}
