package wear

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// What words name as measured: values of a meter and of ketones. They are taken
// from words only to raise, until a person has read the words.

// meterWords are parts of the words for a glucose measured in blood.
var meterWords = []string{
	"finger", "prick", "capillary", "blood sugar", "blood glucose", " sugar was", " sugar of", " glucose was", " bg ", " bgl ", " bm ", " bsl ", " meter", "glucometer", "test strip",
	"blutzucker", "fingerstich", "glycémie", "glucemia", "glicemia", "bloedsuiker", "vingerprik", "blodsukker", "blodsocker",
}

// bloodIn is the glucose that a text says was measured in blood: of the numbers
// about its words the one that most asks for somebody, far below or far above
// first. Without a unit a number of 36 and more is in mg/dL.
func bloodIn(text *plain) (found Reading) {
	for _, w := range meterWords {
		if text.lacks(w) {
			continue
		}
		before, rest, named := strings.Cut(text.text, w)
		if !named {
			continue
		}
		if r, only := beyondMeter(afterWord(w, rest)); only {
			return r
		}
		for _, part := range []string{rest[:min(len(rest), bloodReach)], before[max(0, len(before)-bloodReach):]} {
			if i := strings.IndexAny(part, ";\n"); i >= 0 {
				part = part[:i]
			}
			for _, r := range glucoseIn(part) {
				if found.Unit == UnitUnknown || apart(r) > apart(found) {
					found = r
				}
			}
			if found.Unit != UnitUnknown {
				return found
			}
		}
	}
	return found
}

// beyondMeter takes what follows a meter's word, where that is what meters show in
// place of a number: "LO" or "HI", below or above all that they measure.
func beyondMeter(rest string) (r Reading, ok bool) {
	word, _, _ := strings.Cut(strings.TrimLeft(rest, " :=,.-(\"'"), " ")
	switch strings.Trim(word, ".,;:!)\"'") {
	case "lo":
		return Reading{Unit: MmolL, Bound: Below}, true
	case "hi":
		return Reading{Unit: MmolL, Bound: Above}, true
	}
	return Reading{}, false
}

// afterWord is what follows the word that a part of one, w, belongs to.
func afterWord(w, rest string) string {
	if strings.HasSuffix(w, " ") {
		return rest
	}
	return strings.TrimLeftFunc(rest, unicode.IsLetter)
}

// bloodReach is how many bytes from its word a value may stand.
const bloodReach = 30

// apart is how far a glucose lies from the usual, the same for half and twice.
func apart(r Reading) float64 { return max(r.Mmol()/usualMmol, usualMmol/r.Mmol()) }

// usualMmol is about what glucose is in people without diabetes: 5.5, J Clin
// Endocrinol Metab 2019;104:4356.
const usualMmol = 5.5

// glucoseIn are the numbers of a text that can be a glucose: with one decimal in
// mmol/L, or whole in mmol/L or mg/dL. The parts of a time or a date are none,
// nor is what counts minutes, days or grams.
func glucoseIn(text string) (out []Reading) {
	fields := strings.Fields(text)
	for i, f := range fields {
		f = strings.Trim(f, ".,:=()~<>\"'")
		number := strings.TrimSuffix(strings.TrimSuffix(f, "mmol/l"), "mg/dl")
		next := ""
		if i+1 < len(fields) {
			next = fields[i+1]
		}
		if slices.ContainsFunc([]string{"min", "hour", "h ", "day", "am", "pm", "o'clock", "g ", "gram", "%", "unit", "time"}, func(s string) bool { return strings.HasPrefix(next+" ", s) }) {
			continue
		}
		whole, part, decimal := strings.Cut(strings.Replace(number, ",", ".", 1), ".")
		v, err := strconv.ParseInt(whole+part, 10, 64)
		switch {
		case err != nil || len(part) > 2 || decimal && part == "":
		case decimal && v >= 1 && len(whole) <= 2:
			out = append(out, Reading{Num: v, Scale: uint8(len(part)), Unit: MmolL})
		case !decimal && v >= 36 && v <= 600:
			out = append(out, Reading{Num: v, Unit: MgdL})
		case !decimal && v >= 1 && v <= 33:
			out = append(out, Reading{Num: v, Unit: MmolL})
		}
	}
	return out
}

// withBloodInWords adds the values of meters that words name to the events.
func withBloodInWords(events []Event, said []saying) []Event {
	added := false
	for _, x := range said {
		if x.blood.Unit == UnitUnknown || !x.momentary() {
			continue
		}
		if !added {
			events, added = slices.Clone(events), true
		}
		r := x.blood
		r.At = x.at
		events = append(events, Event{At: x.at, Kind: bloodInWords, Label: x.text, Value: r})
	}
	if added {
		slices.SortStableFunc(events, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	}
	return events
}

// ketoneWords are beginnings and parts of the words for ketones in blood.
var ketoneWords = []string{"keton", "cetona", "cetonas", "céton", "ceton", "cheton", "hydroxybut", "bhb", "кетон"}

// ketonesIn is the blood ketone value in mmol/L that a text names, 0 for none:
// the number that follows the word, else the one before it.
func ketonesIn(text *plain) float64 {
	for _, w := range ketoneWords {
		if text.lacks(w) {
			continue
		}
		before, rest, found := strings.Cut(text.text, w)
		if !found {
			continue
		}
		if v := greatest(rest[:min(len(rest), ketoneReach)]); v > 0 {
			return v
		}
		return greatest(before[max(0, len(before)-ketoneReach):])
	}
	return 0
}

const (
	ketoneReach = 40 // bytes in which a number belongs to the word
	mostKetones = 25 // mmol/L; a larger number is something else
)

// greatest is the greater of the first number of a text that can be ketones and
// of those with decimals: what else is counted there has none. The parts of a
// time or a date are no numbers.
func greatest(text string) float64 {
	most := 0.0
	for _, field := range strings.FieldsFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.,:/-", r) }) {
		field = strings.Replace(strings.Trim(field, ".,:/-"), ",", ".", 1)
		if v, err := strconv.ParseFloat(field, 64); err == nil && v <= mostKetones && (most == 0 || strings.Contains(field, ".")) {
			most = max(most, v)
		}
	}
	return most
}

// ketones flags values of blood ketones in words that no person has read as
// nothing of concern.
func (j *judge) ketones() (Flag, bool) {
	p, most, at := j.in.Protocol, 0.0, saying{}
	for _, x := range j.said {
		if x.ketones > most {
			most, at = x.ketones, x
		}
	}
	f := Flag{
		Tier: p.Tier.Ketones, Text: "Ketones of " + trimmed(most) + " mmol/L are written down: “" + at.text + "” on " + j.moment(at.at) + ".",
		Evidence: "From " + trimmed(p.Flag.Ketones) + " mmol/L in blood it is an emergency whatever the glucose. Speak with the person now: feeling sick, vomiting, drowsy or short of breath means emergency care.",
	}
	if most < p.Flag.Ketones {
		f.Evidence = "From " + trimmed(p.Flag.KetonesRaised) + " mmol/L they are raised, which is an emergency with high glucose. Some people on very little carbohydrate have that; ask how they are."
		high := j.t.seen&pastHighEpisode != 0 || len(j.sticks(p.Flag.HighEpisode.AtLeast)) > 0
		if !high && !j.in.Context.Masking && !j.in.Context.Pregnant && p.Tier.KetonesRaised.Rank() > f.Tier.Rank() {
			f.Tier = p.Tier.KetonesRaised
		}
	}
	return f, most > 0 && most >= p.Flag.KetonesRaised
}
