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
	ClassLow          Class = "low"
)

// bands are where the classes of a test begin, as published for each unit: the
// numbers of two units are no conversions of each other.
type bands struct {
	below, middle, upper Class
	from                 map[string][2]float64 // where middle and upper begin, by unit
}

var (
	fastingADA       = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/L": {5.6, 7.0}, "mg/dL": {100, 126}}}
	fastingWHO       = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/L": {6.1, 7.0}, "mg/dL": {110, 126}}}
	twoHour          = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/L": {7.8, 11.1}, "mg/dL": {140, 200}}}
	pregnancyFasting = bands{ClassNormal, ClassGestational, ClassOvert, map[string][2]float64{"mmol/L": {5.3, 7.0}, "mg/dL": {95, 126}}}
	pregnancyTwoHour = bands{ClassNormal, ClassGestational, ClassOvert, map[string][2]float64{"mmol/L": {9.0, 11.1}, "mg/dL": {162, 200}}}
	pregnancyOneHour = bands{ClassNormal, ClassGestational, ClassGestational, map[string][2]float64{"mmol/L": {10.6, 10.6}, "mg/dL": {191, 191}}}
	hba1cADA         = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/mol": {39, 48}, "%": {5.7, 6.5}}}
	hba1cAustralia   = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/mol": {42, 48}, "%": {6.0, 6.5}}}

	// NICE PH38: fasting 5.5 to 6.9 mmol/L or HbA1c 42 to 47 mmol/mol (from memory).
	fastingUK = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/L": {5.5, 7.0}, "mg/dL": {100, 126}}}
	hba1cUK   = bands{ClassNormal, ClassIntermediate, ClassDiabetes, map[string][2]float64{"mmol/mol": {42, 48}, "%": {6.0, 6.5}}}

	// HbA1c is lower in pregnancy: only a raised one says anything. One of 6.0 to
	// 6.4 % asks for a glucose test before 20 weeks (Med J Aust 2025;223:161).
	pregnancyHbA1c = bands{"", ClassReview, ClassOvert, map[string][2]float64{"mmol/mol": {42, 48}, "%": {6.0, 6.5}}}
	// Below level 1 of Diabetes Care 2017;40:1631, whatever the test.
	lowGlucose = bands{ClassLow, "", "", map[string][2]float64{"mmol/L": {3.9, 3.9}, "mg/dL": {70, 70}}}
	// Below what red cells of the usual life carry, whatever the glucose: a
	// haemoglobin variant, haemolysis, bleeding or transfusion (from memory; common
	// lower end of laboratories).
	lowHbA1c = bands{ClassLow, "", "", map[string][2]float64{"mmol/mol": {20, 20}, "%": {4.0, 4.0}}}
	// A glucose at random counts with symptoms or on a second day; a lower one
	// says nothing.
	random = bands{"", ClassDiabetes, ClassDiabetes, map[string][2]float64{"mmol/L": {11.1, 11.1}, "mg/dL": {200, 200}}}
)

// criteriaSets are the published sets that a protocol can name.
var criteriaSets = map[string]struct{ fasting, hba1c bands }{
	"australia": {fastingWHO, hba1cAustralia},
	"ada":       {fastingADA, hba1cADA},
	"uk":        {fastingUK, hba1cUK},
}

// class reads a result in the unit it was reported in; "" for another unit and
// for what is no result.
func (b bands) class(value float64, unit string) Class {
	from, known := b.from[unit]
	switch {
	case !known || !(value > 0):
		return ""
	case value >= from[1]:
		return b.upper
	case value >= from[0]:
		return b.middle
	}
	return b.below
}

// HbA1cAustralia classifies HbA1c in mmol/mol: 42 to 46 intermediate, from 48
// diabetes range. 47 lies between the printed bands. Source: Australian
// therapeutic guideline text.
func HbA1cAustralia(mmolMol float64) Class {
	if mmolMol >= 47 && mmolMol < 48 {
		return ClassReview
	}
	return hba1cAustralia.class(mmolMol, "mmol/mol")
}
