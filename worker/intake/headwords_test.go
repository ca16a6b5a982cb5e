package intake_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// TestPlainWordsForGlucose: a heading that says glucose or sugar, blood or tissue,
// level or value in plain words of a language is the sensor's, unasked.
func TestPlainWordsForGlucose(t *testing.T) {
	for language, headings := range map[string]string{
		"hu": "Szöveti glükóz|Vércukor|Vércukorszint (mmol/l)|Glükóz", "da": "Vævsglukose|Blodsukker|Glukose i væv", "nb": "Vevsglukose|Blodsukker", "sv": "Vävnadsglukos|Blodsocker",
		"fi": "Kudosglukoosi|Verensokeri|Glukoosi", "ro": "Glicemie|Glucoză|Glucoză în sânge|Nivelul glucozei", "et": "Glükoos|Veresuhkur|Glükoosi tase", "lt": "Gliukozė|Gliukozės kiekis kraujyje|Cukraus kiekis kraujyje|Gliukozė (mmol/l)",
		"lv": "Glikoze|Glikozes līmenis|Cukura līmenis asinīs", "bg": "Глюкоза (ммол/л)|Кръвна захар|Ниво на глюкоза", "mk": "Гликоза|Шеќер во крвта", "sr": "Глукоза|Шећер у крви|Glukoza|Šećer u krvi",
		"hr": "Glukoza u krvi|Razina glukoze", "sl": "Glukoza|Krvni sladkor", "cs": "Glukóza|Hladina glukózy|Krevní cukr|Glykémie", "sk": "Glykémia|Hladina cukru v krvi", "pl": "Glukoza|Stężenie glukozy|Cukier we krwi",
		"uk": "Глюкоза (ммоль/л)|Рівень глюкози|Цукор у крові", "be": "Глюкоза|Цукар у крыві", "ru": "Глюкоза|Сахар крови|Уровень сахара в крови|Глюкоза, ммоль/л", "el": "Γλυκόζη|Σάκχαρο αίματος|Γλυκόζη (mmol/L)",
		"tr": "Glukoz|Kan şekeri|Glikoz", "cy": "Glwcos|Siwgr gwaed|Lefel glwcos", "ga": "Glúcós|Siúcra fola", "is": "Glúkósi|Blóðsykur", "ka": "გლუკოზა|გლუკოზის დონე|გლუკოზა (მმოლ/ლ)|სისხლში შაქარი",
		"hy": "Գլյուկոզա|Գլյուկոզա (մմոլ/լ)|Արյան շաքար", "az": "Qlükoza|Qan şəkəri", "kk": "Глюкоза|Қандағы қант", "uz": "Glyukoza", "sq": "Glukoza|Sheqeri në gjak", "eu": "Glukosa|Odoleko glukosa",
		"ca": "Glucosa|Sucre en sang", "gl": "Glicosa|Azucre no sangue", "pt": "Glicose|Glicemia|Açúcar no sangue", "he": "גלוקוז|סוכר בדם", "ar": "الجلوكوز|سكر الدم|الجلوكوز (ملي مول/لتر)", "fa": "قند خون|گلوکز",
		"hi": "ग्लूकोज|रक्त शर्करा", "bn": "গ্লুকোজ", "ta": "குளுக்கோஸ்", "te": "గ్లూకోజ్", "ml": "ഗ്ലൂക്കോസ്", "kn": "ಗ್ಲೂಕೋಸ್", "gu": "ગ્લુકોઝ", "pa": "ਗਲੂਕੋਜ਼", "mr": "ग्लुकोज",
		"th": "กลูโคส|น้ำตาลในเลือด", "vi": "Đường huyết|Glucose máu", "id": "Gula darah|Glukosa", "fil": "Glukosa|Asukal sa dugo", "sw": "Glukosi|Sukari ya damu", "zh": "葡萄糖|血糖|血糖 (毫摩尔/升)", "ja": "血糖値|グルコース", "ko": "혈당|포도당",
		"nl": "Glucose|Bloedsuiker|Weefselglucose", "af": "Glukose|Bloedsuiker", "de": "Gewebezucker|Blutzucker|Gewebeglukose", "fr": "Glycémie|Glucose tissulaire", "it": "Glicemia|Glucosio tissutale", "es": "Glucosa|Glucemia|Glucosa tisular",
	} {
		for heading := range strings.SplitSeq(headings, "|") {
			if _, asked, res := toldOf(wearFileOf("time\t"+heading, 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "\t" + v })); asked {
				var codes []string
				for _, q := range res.Questions {
					codes = append(codes, q.Code)
				}
				t.Errorf("%s %q: %v %+v", language, heading, codes, res.Refusal)
			}
		}
	}
}

// TestUnitsInOtherScripts: a unit is stated in whatever script it is written.
func TestUnitsInOtherScripts(t *testing.T) {
	for heading, want := range map[string]wear.Unit{
		"Глюкоза (ммол/л)": wear.MmolL, "Глюкоза, ммоль/л": wear.MmolL, "Глюкоза (мг/дл)": wear.MgdL, "გლუკოზა მგ/დლ": wear.MgdL, "血糖 毫克/分升": wear.MgdL, "血糖（毫摩尔/升）": wear.MmolL, "กลูโคส มก./ดล.": wear.MgdL,
	} {
		in := map[wear.Unit]string{wear.MmolL: "mg/dL", wear.MgdL: "mmol/L"}[want] // what the values look like is the other
		_, _, res := toldOf(wearFileOf("time;"+heading, 3*96, func(at time.Time, i int, _ string) string { return at.Format(minutes) + ";" + value(i, unitNamed(in)) }))
		if len(res.Questions) != 1 || res.Questions[0].Code != "unit" || !strings.Contains(res.Questions[0].Text, "states "+want.String()) && !strings.Contains(res.Questions[0].Text, "lost") {
			t.Errorf("%q over values in %s: %+v %+v", heading, in, res.Questions, res.Refusal)
		}
	}
}

func unitNamed(s string) wear.Unit {
	if s == "mmol/L" {
		return wear.MmolL
	}
	return wear.MgdL
}

// TestUnknownUnitsAreAsked: a heading with a unit that no reader knows leaves the
// unit open, whatever the values look like, until somebody has said which it is.
func TestUnknownUnitsAreAsked(t *testing.T) {
	for _, heading := range []string{"Glucose (nA)", "Glucose nA", "Glucose (%)", "Glucose %", "Glucose [mV]", "Glucose, nA", "glucose_nA", "Glucose (na)", "Glucose (AU)", "Glucose (counts)", "Glucose mg", "Glucose (µA)", "Glukose [pmol]", "CGM (raw)", "Sensor glucose (kPa)", "Glucose/nA", "血糖 (%)", "Glucose ‰"} {
		for _, unit := range []wear.Unit{wear.MmolL, wear.MgdL} {
			for _, n := range []int{3 * 96, 20 * 96} {
				data := "time;" + heading + "\n" + lines(n, march, func(i int, at time.Time) string { return at.Format(minutes) + ";" + value(i, unit) })
				_, asked, res := toldOf(data)
				if !asked {
					t.Errorf("%q: filed in %s", heading, res.Unit)
					continue
				}
				answers := map[string]string{}
				for range 3 {
					for _, q := range res.Questions {
						answers[q.Code] = map[string]string{"unit": unit.String(), "glucose_column": "2"}[q.Code]
					}
					_, res = answeredWith(data, answers)
				}
				if !slices.Contains([]string{"mmol/L", "mg/dL"}, answers["unit"]) && res.Refusal == nil {
					t.Errorf("%q: the unit was not asked, but %v", heading, answers)
				} else if res.Refusal == nil && (len(res.Readings) != n || res.Unit != unit) {
					t.Errorf("%q answered: %d readings in %s, %+v", heading, len(res.Readings), res.Unit, res.Questions)
				}
				if res.Refusal != nil {
					continue
				}
				again := intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now, Recipe: func(string) (intake.Recipe, bool) { return res.Recipe, true }})
				if len(again.Readings) != n || again.Unit != unit {
					t.Errorf("%q by the recipe: %d readings in %s, %+v %+v", heading, len(again.Readings), again.Unit, again.Questions, again.Refusal)
				}
			}
		}
	}
}

// TestNoUnitFits: values that can be glucose in neither unit are refused, and no
// question is asked to which nothing but "neither" could be answered.
func TestNoUnitFits(t *testing.T) {
	for _, heading := range []string{"glucose", "glucose (nA)"} {
		data := "time," + heading + "\n" + lines(60, march, func(_ int, at time.Time) string { return at.Format(minutes) + ",0" })
		for _, q := range intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now}).Questions {
			if len(q.Choices) < 2 {
				t.Errorf("%s: %+v", heading, q)
			}
		}
	}
}
