package wear

import (
	"strconv"
	"strings"
)

// ketoneWords are beginnings and parts of the words for ketones in blood.
var ketoneWords = []string{"keton", "cetona", "cetonas", "céton", "ceton", "cheton", "hydroxybut", "bhb", "кетон"}

// ketonesIn is the blood ketone value in mmol/L that a text names, 0 for none:
// the number that follows the word, else the one before it. It only raises, so
// it takes the most that the text may say: of several numbers the greatest that
// can be ketones.
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

// greatest is the greatest number of a text that can be ketones. The parts of a
// time or a date are none.
func greatest(text string) float64 {
	most := 0.0
	for _, field := range strings.FieldsFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.,:/-", r) }) {
		field = strings.Trim(field, ".,:/-")
		if strings.ContainsAny(field, ":/-") {
			continue
		}
		if v, err := strconv.ParseFloat(strings.Replace(field, ",", ".", 1), 64); err == nil && v <= mostKetones {
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
