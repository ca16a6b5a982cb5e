package wear

import (
	"strconv"
	"time"
)

// contextRules says which rules what is on record changed, so that nobody has
// to guess why the same trace reads differently in two people.
func contextRules(in *Input, r *Report) []Remark {
	remarks := make([]Remark, 0, 4)
	c, p := in.Context, in.Protocol
	add := func(code, text string) { remarks = append(remarks, Remark{Code: code, Text: text}) }
	if c.AskedOn != "" {
		add("asked", "Asked about medicines, pregnancy and surgery on "+c.AskedOn+". What was answered is on record.")
	} else {
		add("not_asked", "Nobody has asked about medicines, pregnancy and surgery: what is not on record is not known.")
	}
	if c.HypoglycaemiaRisk() {
		add("glucose_lowering", "On record: "+listed(lowering(c))+". A low counts even where it looks like lying on the sensor, and one dip below 3.9 is enough for a flag.")
	}
	if c.Masking {
		add("masking_medicine", "On record: a medicine that lowers glucose without causing lows. A normal trace does not rule out raised glucose without it; with an SGLT2 inhibitor feeling unwell needs ketones measured, whatever the sensor says.")
	}
	if c.Steroid {
		add("steroid", "On record: a steroid. It raises afternoons and evenings while mornings often stay normal: repeat the wear after the course before calling it new.")
	}
	if c.Raising {
		add("raising_medicine", "On record: a medicine that can raise glucose. The limits are the same; say it when the result is discussed.")
	}
	if c.Pregnant {
		add("pregnant", "On record: pregnancy. The limits for time above 7.8 and above 10 and for nights are not used, because they are those of other adults; dips with symptoms are judged as ever. One episode at or above "+p.Flag.HighEpisode.String()+", or one fasting morning of "+fixed(p.Flag.PregnantFasting, 1)+" or more, is enough for a flag. A sensor does not test for gestational diabetes: the laboratory does.")
	}
	if r.Age >= 0 && float64(r.Age) < p.Flag.AdultAge {
		add("child", "Age "+strconv.Itoa(r.Age)+": the limits for time above 7.8 and above 10 and for nights are those of adults and are not used. One episode at or above "+p.Flag.HighEpisode.String()+" is enough for a flag. No limits for children are published: 39 healthy children of 1 to 6 years had a median of 3.4 % above 7.8 (doi:10.1210/jendso/bvac060), so a clinician looks at each wear.")
	}
	if c.BariatricSurgery {
		add("bariatric_surgery", "On record: bariatric surgery. A low counts even where it looks like lying on the sensor, a dip counts as after a meal from "+fixed(p.Symptom.SoonSurgery, 0)+" min on, and one with a symptom is more pressing.")
	}
	if c.LowCarbohydrate {
		add("low_carbohydrate", "On record: low-carbohydrate eating. Some people see slightly higher mornings (common practice; not established without diabetes), so it explains no finding away. A larger rise when carbohydrate is eaten is usual. Before a glucose tolerance test at least 150 g of carbohydrate a day for three days.")
	}
	if c.ShiftWork {
		add("shift_work", "On record: shift work. Dawn rises are not read, because 00:00 to 06:00 need not be this person's night; what is high or low then counts all the same.")
	}
	if float64(r.Age) >= p.Flag.OlderAge {
		add("older", "Age "+strconv.Itoa(r.Age)+": glucose rises a little with age; the limits are the same.")
	}
	if risk, enough := c.RiskFactors(); enough {
		add("risk_factors", "On record: "+listed(risk)+". A believable normal trace is flagged for the record to be looked at.")
	} else if len(risk) > 0 {
		add("risk_factors", "On record: "+listed(risk)+". Alone it raises no flag: it is one part of a risk score, and the score, which this program does not work out, says whether a laboratory test is due.")
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

// ageOn is how old somebody is at a time, by date of birth, or by year of birth
// the age that they have reached for certain; -1 where neither is known.
func (c Context) ageOn(at time.Time) int {
	if born, err := time.Parse(time.DateOnly, c.BirthDate); err == nil {
		age := at.Year() - born.Year()
		if at.Month() < born.Month() || at.Month() == born.Month() && at.Day() < born.Day() {
			age--
		}
		return max(0, age)
	}
	if c.BirthYear <= 0 {
		return -1
	}
	return max(0, at.Year()-c.BirthYear-1)
}
