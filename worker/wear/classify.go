package wear

// Class is where a laboratory result lies against published criteria. Sensor
// readings are never classified: laboratory venous plasma and laboratory HbA1c
// only.
type Class string

// Classes.
const (
	ClassNormal       Class = "normal"
	ClassIntermediate Class = "intermediate"   // prediabetes, impaired fasting glucose or impaired tolerance
	ClassReview       Class = "review"         // between the printed bands: below the limit, to be looked at
	ClassDiabetes     Class = "diabetes-range" // to be confirmed where there are no symptoms
	ClassGestational  Class = "gestational diabetes"
	ClassOvert        Class = "overt diabetes in pregnancy"
)

// tenths rounds a result in mmol/L to the tenth it was reported in.
func tenths(mmol float64) int { return int(mmol*10 + 0.5) }

// FastingADA classifies fasting plasma glucose in mmol/L: intermediate from
// 5.6, diabetes range from 7.0. Source: ADA Standards of Care 2025 section 2
// (doi:10.2337/dc25-S002).
func FastingADA(mmol float64) Class { return banded(tenths(mmol), 56, 70) }

// FastingWHO classifies fasting plasma glucose in mmol/L: intermediate from
// 6.1, diabetes range from 7.0. Source: WHO/IDF 2006 (ISBN 92 4 159493 4);
// used in Australia.
func FastingWHO(mmol float64) Class { return banded(tenths(mmol), 61, 70) }

// TwoHour classifies plasma glucose in mmol/L two hours after 75 g of glucose:
// intermediate from 7.8, diabetes range from 11.1. Source: ADA and WHO.
func TwoHour(mmol float64) Class { return banded(tenths(mmol), 78, 111) }

func banded(value, intermediate, diabetes int) Class {
	switch {
	case value >= diabetes:
		return ClassDiabetes
	case value >= intermediate:
		return ClassIntermediate
	}
	return ClassNormal
}

// HbA1cAustralia classifies HbA1c in whole mmol/mol as reported: 42 to 46
// intermediate, from 48 diabetes range. 47 lies between the printed bands.
// Source: Australian therapeutic guideline text.
func HbA1cAustralia(mmolMol int) Class {
	if mmolMol == 47 {
		return ClassReview
	}
	return banded(mmolMol, 42, 48)
}

// PregnancyFasting, PregnancyOneHour and PregnancyTwoHour classify plasma
// glucose in mmol/L in a 75 g test in pregnancy. Source: ADIPS 2025, Med J Aust
// 2025;223:161 (doi:10.5694/mja2.52696): gestational from 5.3, 10.6 and 9.0,
// overt from 7.0 fasting and 11.1 at two hours.
func PregnancyFasting(mmol float64) Class { return pregnancy(tenths(mmol), 53, 70) }

// PregnancyOneHour classifies the one-hour value; see [PregnancyFasting].
func PregnancyOneHour(mmol float64) Class { return pregnancy(tenths(mmol), 106, 1<<30) }

// PregnancyTwoHour classifies the two-hour value; see [PregnancyFasting].
func PregnancyTwoHour(mmol float64) Class { return pregnancy(tenths(mmol), 90, 111) }

func pregnancy(value, gestational, overt int) Class {
	switch {
	case value >= overt:
		return ClassOvert
	case value >= gestational:
		return ClassGestational
	}
	return ClassNormal
}
