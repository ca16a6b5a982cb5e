package wear

import "math"

// MmolFromMgdl converts mg/dL to mmol/L with [MgdlPerMmol], unrounded.
func MmolFromMgdl(mgdl float64) float64 { return mgdl / MgdlPerMmol }

// MgdlFromMmol converts mmol/L to mg/dL with [MgdlPerMmol], unrounded.
func MgdlFromMmol(mmol float64) float64 { return mmol * MgdlPerMmol }

// GMI is the glucose management indicator in per cent from a mean in mg/dL:
// 3.31 + 0.02392 × mean. It comes from people with diabetes, is not an HbA1c
// and must not be read against HbA1c cut-offs. Source: Diabetes Care
// 2018;41:2275 (doi:10.2337/dc18-1581).
func GMI(meanMgdl float64) float64 { return 3.31 + 0.02392*meanMgdl }

// GMIMmolMol is [GMI] in mmol/mol from a mean in mmol/L: 12.71 + 4.70587 × mean.
func GMIMmolMol(meanMmol float64) float64 { return 12.71 + 4.70587*meanMmol }

// NGSPFromIFCC converts HbA1c from mmol/mol to per cent:
// 0.09148 × x + 2.152. Source: master equation, ngsp.org/ifcc.asp. Never
// convert before comparing with a cut-off: 47 mmol/mol prints as 6.5 %.
func NGSPFromIFCC(mmolMol float64) float64 { return 0.09148*mmolMol + 2.152 }

// IFCCFromNGSP converts HbA1c from per cent to mmol/mol: 10.93 × x - 23.5.
// Source: IFCC master equations.
func IFCCFromNGSP(percent float64) float64 { return 10.93*percent - 23.5 }

// EstimatedAverage is the estimated average glucose of an HbA1c in per cent,
// in mg/dL (28.7 × x - 46.7) and in mmol/L. The published mmol/L column divides
// by 18, so this does too. Source: Diabetes Care 2008;31:1473
// (doi:10.2337/dc08-0545).
func EstimatedAverage(percent float64) (mgdl, mmol float64) {
	mgdl = 28.7*percent - 46.7
	return mgdl, mgdl / 18
}

// MinutesPerDay turns a share in per cent into minutes a day.
func MinutesPerDay(percent float64) float64 { return percent / 100 * 1440 }

// PercentOfDay turns minutes a day into a share in per cent.
func PercentOfDay(minutes float64) float64 { return minutes / 1440 * 100 }

// ExpectedReadings is how many readings a window of days holds at an interval
// in minutes; 0 for an interval that is not positive.
func ExpectedReadings(days, intervalMinutes float64) int {
	if !(intervalMinutes > 0) {
		return 0
	}
	return int(math.Floor(days*1440/intervalMinutes + 1e-9))
}
