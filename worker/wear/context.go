package wear

import (
	"strconv"
	"time"
)

// contextRules says which rules what is on record changed, so that nobody has
// to guess why the same trace reads differently in two people.
func contextRules(in *Input, end time.Time) []Remark {
	remarks := make([]Remark, 0, 4)
	c, p := in.Context, in.Protocol
	add := func(on bool, code, text string) {
		if on {
			remarks = append(remarks, Remark{code, text})
		}
	}
	add(c.HypoglycaemiaRisk(), "glucose_lowering", "On record: "+listed(lowering(c))+". No low is put down to lying on the sensor or to the sensor reading low, and one dip below 3.9 is enough for a flag.")
	add(c.Masking, "masking_medicine", "On record: a medicine that lowers glucose without causing lows. A normal trace does not rule out raised glucose without it; with an SGLT2 inhibitor feeling unwell needs ketones measured, whatever the sensor says.")
	add(c.Steroid, "steroid", "On record: a steroid. It raises afternoons and evenings while mornings often stay normal: repeat the wear after the course before calling it new.")
	add(c.Raising, "raising_medicine", "On record: a medicine that can raise glucose. The limits are the same; say it when the result is discussed.")
	add(c.Pregnant, "pregnant", "On record: pregnancy. The limits for other adults are not used; one episode at or above "+p.Flag.HighEpisode.String()+", or one fasting morning of "+fixed(p.Flag.PregnantFasting, 1)+" or more, is enough for a flag.")
	add(c.BariatricSurgery, "bariatric_surgery", "On record: bariatric surgery. A dip counts as after a meal from "+fixed(p.Symptom.SoonSurgery, 0)+" min on, and one with a symptom is more pressing.")
	add(c.LowCarbohydrate, "low_carbohydrate", "On record: low-carbohydrate eating. A slightly higher morning is expected; before a glucose tolerance test at least 150 g of carbohydrate a day for three days.")
	add(c.ShiftWork, "shift_work", "On record: shift work. Dawn rises and high nights are not read, because 00:00 to 06:00 need not be this person's night.")
	if age := c.age(end); age > 0 && float64(age) >= p.Flag.OlderAge {
		add(true, "older", "Age "+strconv.Itoa(age)+": glucose rises a little with age; the limits are the same, the words are softer.")
	}
	if risk := c.RiskFactors(); len(risk) > 0 {
		add(true, "risk_factors", "On record: "+listed(risk)+". A believable normal trace is flagged for the record to be looked at.")
	}
	return remarks
}

// lowering names what on record can cause a low.
func lowering(c Context) []string {
	var out []string
	if c.Insulin {
		out = append(out, "insulin")
	}
	if c.Sulfonylurea {
		out = append(out, "a sulfonylurea")
	}
	if len(out) == 0 {
		out = append(out, "a medicine that can cause lows")
	}
	return out
}

// age is how old somebody becomes in the year of a time, or 0 where that is not
// known.
func (c Context) age(at time.Time) int {
	if c.BirthYear <= 0 {
		return 0
	}
	return max(0, at.Year()-c.BirthYear)
}
