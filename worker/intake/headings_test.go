package intake_test

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/sim"
)

// TestEveryLayoutIsReadByItself: no layout of the demonstration leaves a question,
// and none gives another number of readings than were worn.
func TestEveryLayoutIsReadByItself(t *testing.T) {
	for i, l := range sim.Layouts() {
		for j, kind := range []sim.Kind{sim.Unremarkable, sim.MedicineLows} {
			w := sim.NewWear(uint64(100*i+j), sim.Spec{Kind: kind, Layout: l, Start: march, Days: 14})
			_, data := sim.Render(w, l)
			res := intake.Read(data, intake.Options{Zone: time.UTC, Now: now})
			if len(res.Questions) > 0 || res.Refusal != nil || len(res.Readings) != len(w.Readings) {
				t.Errorf("%s: %d of %d readings, %+v, %+v", l.Name, len(res.Readings), len(w.Readings), res.Questions, res.Refusal)
			}
		}
	}
}

// ordinary are headings of the sensor's glucose as exports in many languages write
// them.
var ordinary = []string{
	// units written in many ways
	"glucose_mg_dl", "glucose-mg-dl", "glucoseMgdl", "glucoseMgDl", "glucose mgdl", "GLUCOSE.MG.DL", "glucose_mgdl", "glucose(mg/dl)", "Glucose [mg/dL]", "glucose, mg/100 mL",
	"glucose_mmol_l", "glucose-mmol-l", "glucose mmoll", "glucoseMmolL", "GLUCOSE.MMOL.L", "GlucoseMmolPerL", "glucose_mmol_per_l", "glucose mmol·L-1", "Glucose (mmol L⁻¹)", "sg_mmol", "glucose_mmol",
	// English
	"Glucose", "glucose.value", "glucose.reading", "glucose amount", "glucoseValue", "Sensor glucose", "Glucose reading (mmol/L)", "Blood glucose level", "Recorded glucose (mmol/L)",
	"Glucose measured by sensor (mmol/L)", "Values of the sensor, glucose", "Glucose concentration, mmol/L", "cgm_value", "Glucose result",
	// German, French, Spanish, Italian, Portuguese, Dutch
	"Glukosewert (mmol/L)", "Gewebezucker mmol/L", "Gemessener Glukosewert", "Vom Sensor gemessene Glukose (mmol/L)", "Aufgezeichnete Glukose",
	"Glucose mesuré par capteur (mmol/L)", "Glycémie mesurée (mmol/L)", "Taux de glucose enregistré", "Valeur du glucose interstitiel",
	"Glucosa medida por el sensor (mmol/L)", "Valor de glucosa registrado", "Nivel de glucosa (mg/dL)", "Lectura de glucosa del sensor",
	"Glucosio misurato dal sensore", "Valore del glucosio (mmol/L)", "Livello di glucosio registrato",
	"Glicose medida pelo sensor (mmol/L)", "Nível de glicose registrado", "Leitura da glicose",
	"Gemeten glucose (mmol/L)", "Glucosewaarde van de sensor", "Door sensor gemeten glucose",
	// Swedish, Norwegian, Finnish, Polish, Czech, Turkish
	"Glukosvärde (mmol/L)", "Uppmätt glukos mmol/L", "Målt glukose (mmol/L)", "Sensorin mittaama glukoosi", "Stężenie glukozy (mmol/L)", "Zmierzona glukoza", "Naměřená glukóza mmol/L", "Ölçülen glikoz (mg/dL)", "Sensör glikoz değeri",
	// further scripts
	"Глюкоза сенсора, ммоль/л", "Измеренная глюкоза (ммоль/л)", "Γλυκόζη (mmol/L)", "血糖値 mmol/L", "测量的葡萄糖 mmol/L", "센서 혈당 (mg/dL)", "السكر المقاس mmol/L", "मापा गया ग्लूकोज mmol/L",
}

// TestOrdinaryHeadingsAreRead: a heading that says in ordinary words that the
// column is the sensor's glucose leaves no question.
// [TestOtherHeadingsAreAsked] is its other side.
func TestOrdinaryHeadingsAreRead(t *testing.T) {
	for _, heading := range ordinary {
		mgdl := strings.Contains(strings.ToLower(heading), "mg")
		data := wearFileOf(`time;"`+heading+`"`, 3*96, func(at time.Time, _ int, v string) string {
			return at.Format(minutes) + ";" + ifThen(mgdl, timesEighteen(v), v)
		})
		if _, asked, res := toldOf(data); asked || len(res.Readings) != 3*96 {
			t.Errorf("%q: %d readings, %+v %+v", heading, len(res.Readings), res.Questions, res.Refusal)
		}
	}
}

// timesEighteen writes tenths of mmol/L as whole mg/dL.
func timesEighteen(tenths string) string {
	v, _ := strconv.ParseFloat(tenths, 64)
	return strconv.Itoa(int(v*18 + 0.5))
}
