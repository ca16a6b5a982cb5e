package wear

import "time"

// MealFig is what glucose did after one logged meal.
type MealFig struct {
	At           time.Time `json:"at"`
	Label        string    `json:"label"`
	Judged       bool      `json:"judged"`
	WhyNot       string    `json:"why_not,omitempty"`
	BaselineMmol Figure    `json:"baseline_mmol"`
	PeakMmol     Figure    `json:"peak_mmol"`
	RiseMmol     Figure    `json:"rise_mmol"`
	PeakAfterMin Figure    `json:"peak_after_min"`
	At2hMmol     Figure    `json:"at_2h_mmol"`
	IAUC2h       Figure    `json:"iauc_2h_mmol_min"`
	IAUC3h       Figure    `json:"iauc_3h_mmol_min"`
	ReturnMin    Figure    `json:"return_min"` // back at the baseline; null where not within three hours
	Nadir5hMmol  Figure    `json:"nadir_5h_mmol"`
	Carbs        float64   `json:"carbs_g,omitempty"`
	Like         string    `json:"like,omitempty"` // name that like meals share
}

// MealGroup is what like meals have in common: averages over the judged ones.
type MealGroup struct {
	Like         string `json:"like"`
	Meals        int    `json:"meals"`
	RiseMmol     Figure `json:"rise_mmol"`
	RiseSDMmol   Figure `json:"rise_sd_mmol"`
	PeakAfterMin Figure `json:"peak_after_min"`
	IAUC2h       Figure `json:"iauc_2h_mmol_min"`
}

// Night is 00:00-06:00 of one date and the morning after.
type Night struct {
	Date     string `json:"date"`
	Readings int    `json:"readings"`
	MeanMmol Figure `json:"mean_mmol"`
	LowMmol  Figure `json:"low_mmol"`

	NadirMmol   Figure `json:"nadir_mmol"`   // least running median
	MorningMmol Figure `json:"morning_mmol"` // before breakfast
	RiseMmol    Figure `json:"rise_mmol"`    // from nadir to breakfast
	WhyNot      string `json:"why_not,omitempty"`
	FastingMmol Figure `json:"fasting_mmol"` // the morning, where intake was logged and none for eight hours
}

// Mornings sum up the nights: the dawn rise and the fasting values.
type Mornings struct {
	Nights         int    `json:"nights"` // with a rise that counts
	MedianRiseMmol Figure `json:"median_rise_mmol"`
	RisePct        Figure `json:"rise_pct"` // nights with a dawn rise
	MedianMmol     Figure `json:"median_mmol"`
	Fasting        int    `json:"fasting"` // mornings known to be fasting
	FastingMmol    Figure `json:"fasting_mmol"`
}

// ExerciseFig is what glucose did in and after one logged bout of exercise.
type ExerciseFig struct {
	At          time.Time `json:"at"`
	Label       string    `json:"label"`
	Minutes     int       `json:"minutes"`
	BeforeMmol  Figure    `json:"before_mmol"`
	LowestMmol  Figure    `json:"lowest_mmol"` // during and in the two hours after
	HighestMmol Figure    `json:"highest_mmol"`
}

// Swing is a steep rise above 10 and the dip below 3.9 after it.
type Swing struct {
	From     time.Time `json:"from"`
	FromMmol Figure    `json:"from_mmol"`
	PeakAt   time.Time `json:"peak_at"`
	PeakMmol Figure    `json:"peak_mmol"`
	DipAt    time.Time `json:"dip_at"`
	DipMmol  Figure    `json:"dip_mmol"`
	After    string    `json:"after,omitempty"`
}
