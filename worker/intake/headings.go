package intake

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"wearround/worker/wear"
)

// role is what a column, or a kind of record, is for.
type role uint8

const (
	roleUnknown role = iota
	roleTime
	roleGlucose // sensor glucose recorded on the clock
	roleScan    // sensor glucose read when the wearer asked
	roleFinger  // fingerstick blood glucose
	roleUnit
	roleType  // says what kind of record the row is
	roleEvent // sparse: what happened at that moment
	roleNote
	roleCarbs
	roleMeal
	roleSymptom
	roleExercise
	roleSleep
	roleMedicine
	roleMinutes // how long the event of the row went on
	rolePerson
	roleDevice
	roleOther // known, and none of the above
)

// headingWords lists words by role, without accents, in English, German,
// French, Spanish, Italian, Portuguese, Dutch and romanised Hindi. The first
// role that matches wins, so that "scan glucose" is a scan. A word of five or
// more letters may be part of a longer one; a shorter one stands alone.
var headingWords = []struct {
	role  role
	words string
}{
	{roleOther, "celsius|fahrenheit|kelvin|volt|mmhg|hpa|kpa|lux|birth|dob|geburt|geboren|naissance|nacimiento|nascita|nascimento|heart|pulse|puls|pouls|pulso|hartslag|bpm|steps|temperature|temperatur|temp|battery|trend|rate|slope|delta|weight|gewicht|poids|peso|keton|ketone|pressure|accel|eda|hrv|humidity|calories|kcal|oxygen|spo2|cholesterol|hba1c|average|target|limit"},
	{roleDevice, "serial|device|transmitter|firmware|version|seriennummer|gerat|appareil|dispositivo|apparaat|sensor id|sensor nr|yantra"},
	{roleScan, "scan|scans|scanned|on demand|ondemand|gescannt|numerise|escaneo|escaneada|scansione|a la demande|bei bedarf|a peticion|su richiesta|op verzoek"},
	{roleFinger, "cbg|пальца|палец|пальцев|palca|palec|sormenpaa|parmak|ujjbegy|δαχτυλο|τριχοειδικη|الاصبع|اصبع|指尖|指先|손끝|ngon tay|dau ngon|นิ้ว|उंगली|अंगुली|אצבע|finger stick|kapillaris|deget|fingertopp|prst|fingerstick|finger|fingerprick|strip|teststrip|capillary|teststreifen|kapillar|bandelette|capillaire|tira|reactiva|capilar|striscia|capillare|vingerprik|vinger|strook|smbg|glucometer|glucometre|glucometro"},
	{roleCarbs, "carb|carbs|carbohydrate|carbohydrates|cho|kohlenhydrate|glucides|hidratos|carbohidratos|carboidrati|carboidratos|koolhydraten|karb"},
	{roleMedicine, "medicine|medication|medicament|medicacion|medicacao|medicazione|medicatie|medizin|arznei|medikament|insulin|drug|insuline|insulina|medicina|medicamento|medicinale|farmaco|medicijn|tablet|dose|davai|dava"},
	{roleUnit, "unit|units|einheit|unite|unidad|unita|unidade|eenheid|ikai"},
	{roleGlucose, "glucose|glukose|glycemie|glucosa|glucemia|glicemia|glicose|glucosio|glycaemia|glycemia|zucker|sucre|azucar|zucchero|acucar|suiker|sharkara|cheeni|blood sugar|bg|sg|cgm|" + glucoseElsewhere},
	{roleSymptom, "symptom|symptome|sintoma|sintomas|sintomo|sintomi|klacht|klachten|lakshan"},
	{roleExercise, "exercise|activity|sport|workout|bewegung|training|exercice|activite|ejercicio|actividad|esercizio|attivita|exercicio|atividade|beweging|vyayam"},
	{roleSleep, "sleep|schlaf|sommeil|sueno|sonno|sono|slaap|neend"},
	{roleMinutes, "minutes|minuten|minuti|minutos|minuut|duration|dauer|duree|duracion|durata|duracao|duur|avadhi|min"},
	{roleMeal, "diet|dietary|menu|eaten|drink|drinks|breakfast|lunch|dinner|maltid|posilek|jedzenie|прием пищи|еды|їжа|yemek|餐|用餐|饮食|食事|식사|음식|γευμα|φαγητο|وجبة|طعام|etkezes|jidlo|ateria|meal|food|mahlzeit|essen|repas|aliment|comida|pasto|cibo|refeicao|maaltijd|eten|bhojan|khana|ingestion|snack"},
	{roleNote, "note|notes|comment|comments|remark|remarks|notiz|notizen|bemerkung|kommentar|remarque|commentaire|nota|notas|comentario|osservazioni|opmerking|tippani|text"},
	{roleType, "type|kind|category|record|typ|art|categorie|tipo|soort|prakar|series"},
	{roleEvent, "event|events|ereignis|evenement|evento|gebeurtenis|ghatna|label"},
	{rolePerson, "subject|patient|patients|person|participant|client|name|paciente|paziente|nom|nombre|nome|naam|proband|rogi|mrn|wearer|user|kennung|identifiant|identifier|who|whose"},
	{roleTime, "time|times|timestamp|datetime|date|day|clock|when|recorded|zeit|zeitpunkt|zeitstempel|uhrzeit|datum|heure|horodatage|horodateur|jour|fecha|hora|ora|data|tijd|tijdstip|samay|dinank|tarikh"},
}

// glucoseElsewhere names glucose and sugar in scripts and languages whose other
// words are not known here.
const glucoseElsewhere = "शर्करा|ग्लूकोज|শর্করা|গ্লুকোজ|குளுக்கோஸ்|సుగర్|గ్లూకోజ్|血糖|葡萄糖|グルコース|혈당|포도당|глюкоз|сахар|цукор|γλυκόζη|σάκχαρο|" +
	"سكر|جلوكوز|غلوكوز|گلوکز|قند|סוכר|גלוקוז|น้ำตาล|กลูโคส|glukoz|glikoz|sekeri|cukor|glukoosi|sokeri|blodsocker|blodsukker|glukos|gula darah|đường huyết|" +
	"გლუკოზ|შაქარ|գլյուկոզ|շաքար|ಗ್ಲೂಕೋಸ್|ગ્લુકોઝ|ഗ്ലൂക്കോസ്|ਗਲੂਕੋਜ਼|глукоз|гликоз|шећер|шеќер|захар|цукар|қант|glyukoz|glucoz|gliukoz|glykemi|glikemi|glicemie|glukoos|suhkur|" +
	"cukrus|cukura|cukraus|cukier|cukr|cukru|šećer|sladkor|glicosa|azucre|asukal|glwcos|siwgr|glucos|siúcra|qlükoz|şəkər|sykur|sheqer|sukari"

// autoWords name records taken on the clock, as the value of a type column.
const autoWords = "|auto|automatic|sensor|cgm|sg|reading|value|measurement|automatisch|automatique|automatico|"

// calibrationWords name records of a fingerstick that the sensor was set by.
const calibrationWords = "|calibration|kalibrierung|calibrage|calibracion|calibrazione|calibracao|kalibratie|"

// headingIndex finds the words of headingWords. Words are numbered in order, and
// of several that match the first wins.
type headingIndex struct {
	role    []role         // by number
	single  map[string]int // words that stand alone
	parts   []numbered     // words of five letters or more, which may be part of a longer one
	phrases []numbered     // several words
}

type numbered struct {
	text   string
	number int
}

var headingList = func() (x headingIndex) {
	x.single = make(map[string]int)
	for _, h := range headingWords {
		for w := range strings.SplitSeq(h.words, "|") {
			w, n := plain(w), len(x.role)
			x.role = append(x.role, h.role)
			if strings.IndexByte(w, ' ') >= 0 {
				x.phrases = append(x.phrases, numbered{" " + w + " ", n})
				continue
			}
			if _, known := x.single[w]; !known {
				x.single[w] = n
			}
			if len(w) >= 5 {
				x.parts = append(x.parts, numbered{w, n})
			}
		}
	}
	return x
}()

// plain writes a heading in lower case without accents, its words apart by
// single spaces.
func plain(s string) string {
	var b strings.Builder
	b.Grow(len(s))
	gap := false
	for _, r := range norm.NFKD.String(s) {
		switch {
		case unicode.IsMark(r):
			continue
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			if gap && b.Len() > 0 {
				b.WriteByte(' ')
			}
			gap = false
			b.WriteRune(unicode.ToLower(r))
		default:
			gap = true
		}
	}
	return b.String()
}

// roleOf tells what a heading, or the name of a record type, says.
func roleOf(heading string) role {
	if heading == "" || len(heading) > 200 {
		return roleUnknown
	}
	p := plain(heading)
	switch {
	case p == "id":
		return rolePerson
	case strings.ContainsAny(heading, "°℃℉"):
		return roleOther
	}
	best := len(headingList.role)
	for t := range strings.FieldsSeq(p) {
		if n, ok := headingList.single[t]; ok {
			best = min(best, n)
		}
		if len(t) <= 5 {
			continue
		}
		for _, w := range headingList.parts {
			if w.number >= best {
				break
			}
			if strings.Contains(t, w.text) {
				best = w.number
			}
		}
	}
	if strings.IndexByte(p, ' ') >= 0 {
		p = " " + p + " "
		for _, w := range headingList.phrases {
			if w.number < best && strings.Contains(p, w.text) {
				best = w.number
			}
		}
	}
	if best == len(headingList.role) {
		return roleUnknown
	}
	return headingList.role[best]
}

// recordRole tells what the value of a record-type column says.
func recordRole(value string) role {
	switch p := "|" + plain(value) + "|"; {
	case strings.Contains(autoWords, p):
		return roleGlucose
	case strings.Contains(calibrationWords, p):
		return roleFinger
	}
	switch r := roleOf(value); r {
	case roleGlucose, roleScan, roleFinger:
		return wholly(r, value)
	case roleMeal, roleCarbs, roleSymptom, roleExercise, roleSleep, roleMedicine, roleNote, roleOther:
		return r
	}
	return roleUnknown
}

// unitIn finds a glucose unit in a heading, a unit cell or a preamble line.
func unitIn(s string) wear.Unit {
	if len(s) > 200 || len(s) < 3 {
		return wear.UnitUnknown
	}
	var letters [201]byte
	n := 0
	for _, r := range norm.NFKC.String(s) {
		if n+utf8.UTFMax >= len(letters) {
			break
		}
		if unicode.IsLetter(r) || r == '%' {
			n += utf8.EncodeRune(letters[n:], unicode.ToLower(r))
		}
	}
	p := string(letters[:n])
	if u := unitElsewhere(p); u != wear.UnitUnknown {
		return u
	}
	mmol := strings.Contains(p, "mmol") && !strings.Contains(p, "mmolmol") // the unit of HbA1c
	mgdl := strings.Contains(p, "mgdl") || strings.Contains(p, "mg%") || strings.Contains(p, "mgperdl")
	switch {
	case mmol && !mgdl:
		return wear.MmolL
	case mgdl && !mmol:
		return wear.MgdL
	}
	return wear.UnitUnknown
}

// symptomWords are plain words that tell of a symptom when they stand in a
// note, without accents. The list is this project's own short one.
var symptomWords = []string{
	"shaky", "shaking", "trembl", "sweat", "racing heart", "heart racing", "palpitat", "dizzy", "dizziness", "light headed", "lightheaded",
	"confused", "hungry", "headache", "very tired", "faint", "blurred",
	"zittrig", "schwindel", "schwitz", "herzrasen", "tremblements", "vertige", "etourdi", "temblor", "mareo", "mareado", "tremore", "vertigini", "tremor", "tontura", "trillerig", "duizelig",
}

// negations keep "not shaky any more" a note.
const negations = "|no|not|never|without|ohne|kein|keine|nicht|sans|pas|sin|senza|sem|geen|niet|"

func tellsSymptom(note string) bool {
	p := plain(note)
	for w := range strings.FieldsSeq(p) {
		if strings.Contains(negations, "|"+w+"|") {
			return false
		}
	}
	for _, w := range symptomWords {
		if strings.Contains(p, w) {
			return true
		}
	}
	return false
}

// Words for a value below or above what the sensor can report, standing alone
// in a glucose column. A word that is not here is asked about.
var (
	lowWords  = "|low|lo|niedrig|tief|bas|bajo|basso|baixo|laag|"
	highWords = "|high|hi|hoch|haut|eleve|alto|elevado|hoog|"
)

func boundWord(s string) wear.Bound {
	p := "|" + plain(s) + "|"
	switch {
	case len(p) < 4:
	case strings.Contains(lowWords, p):
		return wear.Below
	case strings.Contains(highWords, p):
		return wear.Above
	}
	return wear.Exact
}
