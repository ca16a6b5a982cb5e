package wear

// Metrics are the measures of a set of readings. Shares are percentages of
// readings; a reading exactly at a limit is not past it.
type Metrics struct {
	Readings       int    `json:"readings"`
	MeanMmol       Figure `json:"mean_mmol"`
	SDMmol         Figure `json:"sd_mmol"` // divisor n-1
	CVPct          Figure `json:"cv_pct"`
	MedianMmol     Figure `json:"median_mmol"` // Hyndman-Fan type 7
	MinMmol        Figure `json:"min_mmol"`
	MaxMmol        Figure `json:"max_mmol"`
	Above7_8Pct    Figure `json:"above_7_8_pct"`
	Above10Pct     Figure `json:"above_10_pct"`
	Above13_9Pct   Figure `json:"above_13_9_pct"`
	Below3_9Pct    Figure `json:"below_3_9_pct"`
	Below3_0Pct    Figure `json:"below_3_0_pct"`
	Within3_9To7_8 Figure `json:"within_3_9_7_8_pct"`
	Within3_9To10  Figure `json:"within_3_9_10_pct"`
	NightMeanMmol  Figure `json:"night_mean_mmol"` // 00:00-06:00 local
	DayMeanMmol    Figure `json:"day_mean_mmol"`   // 06:00-24:00 local
	MAGEMmol       Figure `json:"mage_mmol"`
	MODDMmol       Figure `json:"modd_mmol"`
	MAGMmolH       Figure `json:"mag_mmol_h"`
	LBGI           Figure `json:"lbgi"`
	HBGI           Figure `json:"hbgi"`

	NightAbove7_8 Figure `json:"night_above_7_8_pct"`
	DayAbove7_8   Figure `json:"day_above_7_8_pct"`
	CONGA1Mmol    Figure `json:"conga_1_mmol"`             // over one hour
	AUCAbove7_8   Figure `json:"auc_above_7_8_mmol_h_day"` // area above 7.8, a day
	JIndex        Figure `json:"j_index"`
	GRADE         Figure `json:"grade"` // median
	GVPPct        Figure `json:"gvp_pct"`
	ADRR          Figure `json:"adrr"`
	MValue        Figure `json:"m_value"` // about 120 mg/dL
	Lability      Figure `json:"lability"`
	GMIPct        Figure `json:"gmi_pct"` // null unless the protocol asks for it; not an HbA1c
}

// Range is the least and the greatest a figure comes to.
type Range struct {
	Low  Figure `json:"low"`
	High Figure `json:"high"`
}

// Uncertainty says how far single days carry the figures over believed
// readings: the range of each when every day in turn is left out. Not
// available for fewer than two days.
type Uncertainty struct {
	MeanMmol       Range `json:"mean_mmol"`
	Above7_8Pct    Range `json:"above_7_8_pct"`
	Above10Pct     Range `json:"above_10_pct"`
	Above13_9Pct   Range `json:"above_13_9_pct"`
	Below3_9Pct    Range `json:"below_3_9_pct"`
	Below3_0Pct    Range `json:"below_3_0_pct"`
	Within3_9To7_8 Range `json:"within_3_9_7_8_pct"`
	Within3_9To10  Range `json:"within_3_9_10_pct"`
}
