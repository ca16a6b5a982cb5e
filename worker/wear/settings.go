package wear

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Setting is one line of a protocol for people to read.
type Setting struct {
	Name   string `json:"name"` // place in the protocol's JSON: "flag.above_7_8_pct"
	Value  string `json:"value"`
	Unit   string `json:"unit"`
	Range  string `json:"range"` // what it may be, "0 to 100"; "" where it is words, or no setting
	Source string `json:"source"`
	// Status is how sure the value is: "published", "derived", "secondary",
	// "from memory" or "proposal"; "own" where it differs from the shipped one.
	Status     string `json:"status"`
	ProposedBy string `json:"proposed_by"`
}

// How sure a shipped value is.
const (
	isPublished = "published"
	derived     = "derived"
	fromMemory  = "from memory"
	proposal    = "proposal"
	own         = "own"
)

const (
	judgement = "engineering judgement; no published rule found"
	triage    = "triage list of this practice; no society gives action limits for people without diabetes"
)

// Settings lists every setting with unit, source, standing and who proposed it,
// in a fixed order. A value that differs from the shipped one is the practice's
// own: the shipped source does not speak for it.
func (p *Protocol) Settings() []Setting {
	rows, shipped := p.rows(), DefaultProtocol().rows()
	settings := make([]Setting, 0, len(rows))
	for i, r := range rows {
		x := r.Setting
		if x.Value != shipped[i].Value {
			x.Status = own
			x.Source = "set here in place of " + shipped[i].Value + " (" + shipped[i].Source + ")"
		}
		switch by, named := p.Proposers[x.Name]; {
		case named:
			x.ProposedBy = by
		case x.Status == isPublished:
			x.ProposedBy = "its source"
		default:
			x.ProposedBy = p.ProposedBy
		}
		settings = append(settings, x)
	}
	return settings
}

// Difference is a setting with what it is in another protocol.
type Difference struct {
	Setting
	Was string
}

// Differences gives the settings that have another value in another protocol.
func (p *Protocol) Differences(other *Protocol) []Difference {
	var out []Difference
	was := other.Settings()
	for i, x := range p.Settings() {
		if x.Value != was[i].Value {
			out = append(out, Difference{x, was[i].Value})
		}
	}
	return out
}

// Validate says in plain words what is wrong with the protocol, every setting
// that is out of its range and every pair in the wrong order, or nil.
func (p *Protocol) Validate() error {
	var wrong []error
	refuse := func(text string) { wrong = append(wrong, errors.New(text)) }
	if strings.TrimSpace(p.Version) == "" {
		refuse("version: give the protocol a version, because every report carries it")
	}
	if strings.TrimSpace(p.Status) == "" {
		refuse("status: say who signed the protocol, or \"unsigned proposal\"")
	}
	if strings.TrimSpace(p.ProposedBy) == "" {
		refuse("proposed_by: say who put forward the values that no published source gives")
	}
	known := make(map[string]bool)
	for _, r := range p.rows() {
		known[r.Name] = true
		if r.problem != "" {
			refuse(r.Name + ": " + r.problem)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(p.Proposers)) {
		if !known[name] {
			refuse("proposers: there is no setting \"" + name + "\"")
		}
	}
	ordered := func(low, high float64, text string) {
		if low > high {
			refuse(text)
		}
	}
	ordered(p.Wear.MinUsableDays, p.Wear.FullUsableDays, "wear.min_usable_days must not be more than wear.full_usable_days")
	ordered(p.Wear.MinDaysForShares, p.Wear.MinUsableDays, "wear.min_days_for_shares must not be more than wear.min_usable_days")
	ordered(p.Flag.Above7_8NotePct, p.Flag.Above7_8Pct, "flag.above_7_8_note_pct must not be more than flag.above_7_8_pct")
	ordered(p.Flag.NightLowMmol, p.Flag.NightDipMmol, "flag.night_low_mmol must not be more than flag.night_dip_mmol")
	ordered(p.Flag.KetonesRaised, p.Flag.Ketones, "flag.ketones_raised must not be more than flag.ketones")
	ordered(p.Believe.RateFromMinutes, p.Believe.RateToMinutes, "believe.rate_from_minutes must not be more than believe.rate_to_minutes")
	ordered(p.Meal.WindowMinutes, p.Meal.LongMinutes, "meal.window_minutes must not be more than meal.long_minutes")
	ordered(p.Night.BreakfastHour, p.Night.BreakfastToHour, "night.breakfast_hour must not be more than night.breakfast_to_hour")
	ordered(p.Night.NoLogFromHour, p.Night.NoLogToHour, "night.no_log_from_hour must not be more than night.no_log_to_hour")
	ordered(p.Symptom.SoonMinutes, p.Symptom.LaterHours*60, "symptom.soon_minutes must not be more than symptom.later_hours")
	ordered(p.Believe.PressureMinMinutes, p.Believe.PressureMaxMinutes, "believe.pressure_min_minutes must not be more than believe.pressure_max_minutes")
	for _, n := range []struct {
		name string
		norm ScoreNorm
	}{
		{"above_7_8", p.Score.Above7_8}, {"above_10", p.Score.Above10}, {"mean", p.Score.Mean},
	} {
		if !(n.norm.Usual < n.norm.Upper) {
			refuse("score." + n.name + ": the usual value must be less than the upper one")
		}
	}
	return errors.Join(wrong...)
}

// row is a setting with what is wrong with it, if anything.
type row struct {
	Setting
	problem string
}

func number(name string, value float64, unit string, least, most float64, status, source string) row {
	r := row{Setting: Setting{Name: name, Value: trimmed(value), Unit: unit, Range: trimmed(least) + " to " + trimmed(most), Source: source, Status: status}}
	if math.IsNaN(value) || value < least || value > most {
		r.problem = "must lie between " + trimmed(least) + " and " + trimmed(most) + " " + unit + ", not " + trimmed(value)
	}
	return r
}

// limit takes its range in tenths of a mmol/L and wants both numbers of the
// pair to mean the same glucose.
func limit(name string, l Limit, least, most int64, status, source string) row {
	r := row{Setting: limitSetting(name, l, status, source)}
	r.Range = trimmed(float64(least)/10) + " to " + trimmed(float64(most)/10)
	switch {
	case l.MmolTenths < least || l.MmolTenths > most:
		r.problem = "must lie between " + trimmed(float64(least)/10) + " and " + trimmed(float64(most)/10) + " mmol/L, not " + l.String()
	case math.Abs(float64(l.Mgdl)-l.Mmol()*MgdlPerMmol) > 1:
		r.problem = l.String() + " mmol/L and " + strconv.FormatInt(l.Mgdl, 10) + " mg/dL are not the same glucose"
	}
	return r
}

func limitSetting(name string, l Limit, status, source string) Setting {
	return Setting{
		Name: name, Value: l.String() + " (" + strconv.FormatInt(l.Mgdl, 10) + ")", Unit: "mmol/L (mg/dL)",
		Source: source, Status: status,
	}
}

func published(name string, l Limit) row {
	return row{Setting: limitSetting(name, l, isPublished, "Diabetes Care 2017;40:1631 and 2019;42:1593; consensus of people with diabetes, not norms; not a setting, because measures are named after it")}
}

func tier(name string, t Tier) row {
	r := row{Setting: Setting{Name: name, Value: t.Words(), Range: "a tier", Source: triage, Status: proposal}}
	if t.Rank() == len(Tiers()) {
		r.problem = "must be one of today, this_week, this_month, cannot_tell and routine, not \"" + string(t) + "\""
	}
	return r
}

func words(name string, w []string, source string) row {
	return row{Setting: Setting{Name: name, Value: strings.Join(w, ", "), Unit: "parts of words", Source: source, Status: proposal}}
}

func criteria(name, value string) row {
	r := row{Setting: Setting{
		Name: name, Value: value, Unit: "australia, ada or uk", Status: isPublished,
		Source: "WHO/IDF 2006 and Australian text, ADA Standards of Care 2025 (doi:10.2337/dc25-S002), or NICE PH38 (from memory)",
	}}
	if _, known := criteriaSets[value]; !known {
		r.problem = "must be \"australia\", \"ada\" or \"uk\", not \"" + value + "\""
	}
	return r
}
