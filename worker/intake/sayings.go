package intake

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wearround/worker/wear"
)

// saying is what a file says beside its readings: a line above or below the
// table, a member beside a list, or a column with the same text on every row.
// It is a fact about the file only if its key and its value are wholly
// understood. If not, it becomes words of the wear, which a person must read
// before anybody is told that all is well; or it is asked about, where it may
// say that the values are no readings of a sensor.
type saying struct{ key, value string }

func (s saying) text() string {
	if s.key == "" || s.value == "" {
		return s.key + s.value
	}
	return s.key + ": " + s.value
}

// facts is what is known of the readings of a file, for comparing what it says
// of itself.
type facts struct {
	readings []wear.Reading
	rows     int
	unit     wear.Unit // of all readings; unknown where rows state their own

	worked          bool
	mean, sd        float64
	low, high, half float64
	step            int64 // the commonest, in seconds
	days            float64

	loose  bool     // they are a meter's, and no wear of their own
	words  []string // what was not understood, in order
	matter string   // what somebody said of sayings about what was measured
}

// work works the figures out that statistics are compared with.
func (f *facts) work() {
	if f.worked {
		return
	}
	f.worked = true
	var values []float64
	var steps stepCount
	sum := 0.0
	for i, r := range f.readings {
		if r.Bound != wear.Exact {
			continue
		}
		v := r.Native()
		values = append(values, v)
		sum += v
		if i > 0 {
			steps.add(abs(r.At - f.readings[i-1].At))
		}
	}
	if len(values) < 2 {
		return
	}
	f.mean = sum / float64(len(values))
	for _, v := range values {
		f.sd += (v - f.mean) * (v - f.mean)
	}
	f.sd = math.Sqrt(f.sd / float64(len(values)-1))
	slices.Sort(values)
	f.low, f.high, f.half = values[0], values[len(values)-1], values[len(values)/2]
	steps.flush()
	best := 0
	for length, n := range steps.counts {
		if n > best || n == best && length < f.step {
			f.step, best = length, n
		}
	}
	first, last := f.readings[0].At, f.readings[0].At
	for _, r := range f.readings {
		first, last = min(first, r.At), max(last, r.At)
	}
	f.days = float64(last-first) / 86400
}

// Words of which the keys of facts are made. A key is of a sort only if all its
// words are.
var (
	linkWords = "of the a an in for by from at on and or to per der die das des dem den im vom von und du de la le les l d et del della el los y e do da dos van het en nr number nummer numero número nº № # "

	whoWords    = newVocabulary(linkWords, "subject patient patients person participant client name names first last family given surname forename vorname nachname familienname prénom nom nombre apellidos apellido nome cognome paciente paziente naam voornaam achternaam proband mrn wearer user kennung identifiant identifier identificador identificatore id code codigo código codice hospital record register urn rogi")
	codeWords   = newVocabulary(linkWords, "no serial device devices transmitter firmware hardware software app application program programme version release build model modell modèle modelo seriennummer gerät gerat appareil dispositivo apparaat reader receiver sensor sensors sensore capteur kind type lot batch charge file datei fichier archivo id code report sequence row protocol format layout form")
	dateWords   = newVocabulary(linkWords, "made printed print created exported export generated downloaded download saved written report date time start started end ended begin began period range first last until datum erstellt gedruckt exportiert zeitraum beginn ende bis créé imprimé exporté début fin période fecha creado impreso exportado inicio período periodo stampato creato esportato inizio fine gemaakt afgedrukt geëxporteerd einde day today timestamp taken collected wear applied removed data of readings bericht rapport informe rapporto")
	placeWords  = newVocabulary(linkWords, "clinic practice surgery hospital ward department centre center praxis klinik cabinet clinique clínica clinica ospedale praktijk ziekenhuis doctor gp physician nurse arzt ärztin médecin médico medico arts")
	unitWords   = newVocabulary(linkWords, glucoseNames, "unit units einheit einheiten unité unités unidad unidades unità unidade eenheid glucose reading readings value values all are measured in is sensor alle werte")
	countWords  = newVocabulary(linkWords, "readings rows records entries values lines count total measurements points samples anzahl messwerte werte zeilen mesures valeurs lignes lecturas valores filas letture righe metingen waarden regels n")
	stepWords   = newVocabulary(linkWords, "interval sampling cadence step every recording reading readings intervall takt intervalle intervalo intervallo")
	stepUnits   = newVocabulary("min mins minute minutes minuten minutos minuti min. m every")
	sexWords    = newVocabulary("sex gender geschlecht sexe sexo sesso geslacht")
	sexes       = newVocabulary("m f male female w man woman männlich weiblich homme femme hombre mujer masculino femenino maschio femmina vrouw")
	ageWords    = newVocabulary("age alter âge edad età leeftijd years of wearer patient")
	bornWords   = newVocabulary(linkWords, "born birth dob birthdate birthday geboren geburtsdatum geburt né née naissance nacimiento nascita geboortedatum date datum fecha data patient")
	pageWords   = newVocabulary("page pages of seite von página pagina de sur blatt")
	zoneKeys    = newVocabulary("zone timezone tz utcoffset offset time zeitzone fuseau horaire huso horario fuso orario tijdzone all times are in is local clock of the utc gmt")
	meanWords   = newVocabulary(glucoseNames, "mean average avg mittelwert mittel durchschnitt moyenne media promedio gemiddelde glucose sensor of all the readings overall total")
	medianWords = newVocabulary(glucoseNames, "median mediane mediana médiane glucose")
	spreadWords = newVocabulary(glucoseNames, "sd standard deviation standardabweichung glucose")
	shareWords  = newVocabulary(glucoseNames, "cv coefficient of variation glucose")
	lowestWords = newVocabulary(glucoseNames, "min minimum lowest glucose reading value kleinster")
	mostWords   = newVocabulary(glucoseNames, "max maximum highest glucose reading value grösster")
	daysWords   = newVocabulary(linkWords, "days day wear worn length duration tage jours días dias giorni dagen")

	// titleWords make up titles and the names of sheets, columns and lists.
	titleWords = sensorWords.with(linkWords + "report reports bericht messbericht rapport informe registro rapporto verslag table tables tabelle tableau tabla tabella sheet feuille hoja foglio blad list liste lista log logbook record records type kind category art typ export exports file data daten données datos dati gegevens measurements two weeks week days sensor recording this is with and end start page " +
		"part parts teil partie parte deel first second last summary overview daily all times time local fields field columns column one single wear wearer your my true false")
)

// otherMatter are words that may say that the values are no readings of a sensor
// as it took them.
var otherMatter = newVocabulary("urine urin orina saliva speichel salive csf liquor cerebrospinal plasma serum venous venös arterial capillary kapillar sweat tears dialysate specimen sample sample's material matrix " +
	"average averages averaged mean means median medians mittel mittelwert mittelwerte durchschnitt moyenne moyennes media medie promedio gemiddelde smoothed smooth filtered geglättet lissé interpolated imputed predicted prediction forecast simulated simulation simulator synthetic artificial demonstration real fictitious fictional mock sandbox placeholder estimated calculated computed deviation deviations hourly maximum maxima minimum minima control calibration test demo example statistic statistics quantity analyte parameter")

// matterKeys announce what was measured, and ofReadings are words by which a
// sentence may speak of the values or their times: "all values are too low", "the
// clock was two hours slow".
var (
	matterKeys = newVocabulary(linkWords, "specimen sample material matrix quantity analyte parameter test measurement fluid source kind type probe probenart échantillon muestra campione monster")
	ofReadings = newVocabulary("value values wert werte valeurs valores valori waarden reading readings messwerte lectures lecturas letture metingen result results figure figures numbers zahlen chiffres cifras sensor sensors capteur sensore sensoren " +
		"glucose glukose glycémie glucosa glicemia unit units time times clock uhr uhrzeit horloge reloj orologio klok hour hours stunden heures horas ore uren minutes zone morning morgens evening abends date dates column columns spalte colonne columna row rows line lines zeile zeilen ligne lignes fila filas riga righe rij rijen swapped shifted corrected uncorrected uncalibrated invalid void unreliable ungültig invalide wrong falsch invented erfunden lesson exercise's model dialysis dummy fake made-up practice's nobody")
)

// sense is what becomes of a saying.
type sense uint8

const (
	isFact sense = iota
	isWords
	isOther // it may be about what was measured
)

// senseOf tells what becomes of a saying.
func (f *facts) senseOf(s saying) sense {
	if s.key == "" {
		if f.ownCount(s.value) || formLabel(s.value) {
			return isFact
		}
		return f.senseOfText(s.value)
	}
	if f.factual(s) {
		return isFact
	}
	if k, _ := kindAndNumber(s.value); k {
		return isWords // a figure, which says nothing of what the values are
	}
	if s.value != "" && (f.senseOfText(s.key+" "+s.value) == isFact || matterKeys.understands(s.key) && saysSensor(s.value)) {
		return isFact
	}
	if isUnitKey(s.key) {
		return isOther // a unit that is not read, or another than the values are in
	}
	return f.senseOfText(s.text())
}

// formLabel reports a label of a form that nothing stands behind: "Name:".
func formLabel(text string) bool {
	return whoWords.understands(text) || placeWords.understands(text) || bornWords.understands(text) || sexWords.understands(text) || dateWords.understands(text)
}

// ownCount reports a text that only says how many readings or rows there are, as
// they are counted: "(288 rows)".
func (f *facts) ownCount(text string) bool {
	number, of, _ := strings.Cut(plain(text), " ")
	n, err := strconv.Atoi(number)
	return err == nil && of != "" && countWords.understands(of) && !strings.ContainsAny(of, "0123456789") && (n == len(f.readings) || n == f.rows)
}

func (f *facts) senseOfText(text string) sense {
	rest, foreign := withoutUnit(text)
	if u := unitIn(text); foreign != "" || u != wear.UnitUnknown && f.unit != wear.UnitUnknown && u != f.unit && !strings.ContainsAny(rest, "0123456789") {
		return isOther
	}
	if titleWords.understands(rest) || zoneKeys.understands(zoneless(text)) || pageWords.understands(text) {
		return isFact
	}
	for w := range strings.FieldsSeq(plain(rest)) {
		if otherMatter.whole[w] || ofReadings.whole[w] {
			return isOther
		}
	}
	return isWords
}

// zoneless takes the name or offset of a zone out of a text.
func zoneless(text string) string {
	h, found := hintIn(text, false)
	if !found {
		return "?" + text + "x" // it names none
	}
	return strings.ReplaceAll(text, h.text, " ")
}

func isUnitKey(key string) bool { return unitWords.understands(key) && roleOf(key) == roleUnit }

// kindAndNumber reads a figure with at most one unit or sign behind it.
func kindAndNumber(s string) (ok bool, v float64) {
	rest, _ := withoutUnit(s)
	rest = strings.Trim(rest, " %()")
	num, scale, ok := parseNumber(rest)
	return ok, wear.Reading{Num: num, Scale: scale}.Native()
}

// factual reports whether a key and its value are a fact about the file, its
// device or its person, and whether a figure is that of the readings.
func (f *facts) factual(s saying) bool {
	key, value := strings.TrimRight(s.key, ": ="), strings.TrimSpace(s.value)
	if value == "" {
		return false
	}
	number, v := kindAndNumber(value)
	near := func(words *vocabulary, own func() float64, within float64) bool {
		if !number || !words.understands(key) {
			return false
		}
		f.work()
		return math.Abs(v-own()) <= within
	}
	grain := 0.06
	if f.unit == wear.MgdL {
		grain = 0.6
	}
	switch {
	case whoWords.understands(key):
		return codeLike(value) || nameLike(value)
	case codeWords.understands(key) && codeText(value):
		return true
	case dateWords.understands(key) && datesIn(value):
		return true
	case placeWords.understands(key):
		return nameLike(value)
	case isUnitKey(key):
		rest, foreign := withoutUnit(value)
		return foreign == "" && strings.TrimSpace(rest) == "" && (f.unit == wear.UnitUnknown || unitIn(value) == f.unit)
	case countWords.understands(key) && number:
		return v == float64(len(f.readings)) || v == float64(f.rows)
	case stepWords.understands(key):
		minutes, rest, _ := strings.Cut(strings.TrimPrefix(value, "every "), " ")
		n, err := strconv.Atoi(minutes)
		f.work()
		return err == nil && stepUnits.understands(rest) && rest != "" && int64(n)*60 == f.step
	case sexWords.understands(key):
		return sexes.understands(value)
	case ageWords.understands(key) && number:
		return v >= grownUp && v < oldest
	case bornWords.understands(key):
		return f.grown(value)
	case saysZone(key) && zoneKeys.understands(key):
		_, found := hintIn(value, true)
		return found && !strings.Contains(value, " ")
	}
	return near(meanWords, func() float64 { return f.mean }, grain) || near(medianWords, func() float64 { return f.half }, 2*grain) ||
		near(spreadWords, func() float64 { return f.sd }, grain) || near(shareWords, func() float64 { return 100 * f.sd / f.mean }, 0.6) ||
		near(lowestWords, func() float64 { return f.low }, grain) || near(mostWords, func() float64 { return f.high }, grain) ||
		near(daysWords, func() float64 { return f.days }, 1)
}

// Whoever is younger is off the pathway, which a person must see.
const (
	grownUp = 18
	oldest  = 115
)

// grown reports whether a birth date is that of somebody of age at the time of
// the readings.
func (f *facts) grown(value string) bool {
	st, ok := parseStamp(value)
	if year, _, _ := strings.Cut(value, "-"); len(year) == 4 && onlyDigits(year) && len(value) <= len("2006-01") {
		n, _ := strconv.Atoi(year)
		st, ok = stamp{form: yearFirst, parts: [3]int16{int16(n)}}, true // a birth year is enough
	}
	if !ok || st.form == noDate || len(f.readings) == 0 {
		return false
	}
	y := int64(st.parts[0])
	if st.form == numeric {
		y = int64(st.parts[2])
	} else if st.form == numeric2 {
		return false
	}
	age := 1970 + f.readings[0].At/(365*86400+86400/4) - y
	return age > grownUp && age < oldest
}

// codeLike reports one word with digits in it.
func codeLike(s string) bool {
	return len(s) <= 40 && strings.ContainsAny(s, "0123456789") && !strings.ContainsFunc(s, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./#:", r)
	})
}

// codeText reports a code of a device or a version: words with digits, single
// letters, and words that name such things.
func codeText(s string) bool {
	words := strings.Fields(s)
	for _, w := range words {
		if !codeLike(w) && utf8.RuneCountInString(w) != 1 && !codeWords.understands(w) {
			return false
		}
	}
	return len(words) > 0 && len(words) <= 5
}

// particles are the small words inside names of people and streets.
const particles = "|de|van|von|der|den|la|le|el|al|bin|ibn|da|dos|di|del|y|zu|of|"

// nameLike reports what can be a name: a few words with a capital each, none of
// which is a word for a symptom, a medicine or the like.
func nameLike(s string) bool {
	words := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == ',' || r == '\u00a0' })
	if len(words) == 0 || len(words) > 6 || roleOf(s) != roleUnknown && roleOf(s) != rolePerson || tellsSymptom(s) {
		return false
	}
	capitals := 0
	for _, w := range words {
		r, _ := utf8.DecodeRuneInString(w)
		switch {
		case strings.Contains(particles, "|"+strings.ToLower(w)+"|"):
		case unicode.IsUpper(r) && !strings.ContainsAny(w, "0123456789:;!?=<>%"):
			capitals++
		default:
			return false
		}
	}
	return capitals > 0
}

// datesIn reports a date, a time, or two of them with a word or mark between.
func datesIn(s string) bool {
	whole := func(s string) bool {
		st, ok := parseStamp(strings.TrimSpace(s))
		return ok && st.form != noDate
	}
	if whole(s) {
		return true
	}
	for _, between := range []string{" to ", " - ", " – ", " until ", " bis ", " au ", " a ", " al ", " ", ", "} {
		for i := 0; ; {
			j := strings.Index(s[i:], between)
			if j < 0 {
				break
			}
			if whole(s[:i+j]) && whole(s[i+j+len(between):]) {
				return true
			}
			i += j + len(between)
		}
	}
	return false
}

// sayingsOf takes a row apart that has no reading: a key with its value, pairs of
// them, or words.
func (t *table) sayingsOf(r int) []saying {
	var cells []string
	words := false
	for c := range t.width(r) {
		if s := t.cell(r, c); s != "" && t.kind(r, c) != blank {
			cells = append(cells, s)
			words = words || t.kind(r, c) == word
		}
	}
	if !words {
		return nil
	}
	if len(cells) == 1 {
		return []saying{sayingIn(cells[0])}
	}
	if strings.ContainsAny(cells[0], ":=") && sayingIn(cells[0]).key != "" && sayingIn(cells[0]).value != "" {
		list := make([]saying, 0, len(cells))
		for _, s := range cells {
			list = append(list, sayingIn(s))
		}
		return list
	}
	return []saying{{strings.TrimRight(cells[0], ":= "), strings.Join(cells[1:], " ")}}
}

// sayingIn takes "key: value" apart.
func sayingIn(s string) saying {
	i := strings.IndexAny(s, ":=")
	if i <= 0 || i+1 >= len(s) || s[i] == ':' && i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
		return saying{"", strings.TrimRight(s, ": ")}
	}
	return saying{strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1:])}
}

// keptAsWords is why a cell that is not understood is an event.
const keptAsWords = "kept as words that a person reads"

// hear judges what a file says beside its readings, and gives what its cells
// become: as fact gives where all is understood. [ledger.askMatters] has asked
// about all of the file before.
func (l *ledger) hear(f *facts, list []saying, fact part) part {
	out := fact
	for _, s := range list {
		switch sense := f.senseOf(s); {
		case sense == isFact:
		case sense == isWords || f.matter == "remark":
			f.keep(s.text())
			out = part{wear.FateEvent, keptAsWords}
		case f.matter == holdsAside && out == fact:
			out = part{wear.FateAside, "a person said that it says nothing of the wear"}
		case out == fact:
			out = part{wear.FateAside, "waits for an answer"}
		}
	}
	return out
}

// take notes what a saying states of the person. A day so long before the readings
// that no sensor was there can only be a birth date, in whatever language it says so.
func (a *About) take(f *facts, s saying) {
	for _, named := range personsIn([]saying{s}) {
		if name := named.value; !codeLike(name) && !slices.Contains(a.Names, name) {
			a.Names = append(a.Names, name)
		}
	}
	key, value := strings.TrimRight(s.key, ": ="), plain(s.value)
	switch {
	case sexWords.understands(key) && key != "" && sexes.understands(value):
		switch {
		case strings.Contains(femaleWords, "|"+value+"|"):
			a.Sex = "female"
		case strings.Contains(maleWords, "|"+value+"|"):
			a.Sex = "male"
		}
	case bornWords.understands(key) && !dateWords.understands(key) && !whoWords.understands(key):
		a.Born = datesOfBirth(s.value)
	case len(a.Born) == 0:
		a.Born = f.longAgo(s)
	}
}

// longAgo is the date that a saying holds which is decades before the readings, as
// the dates that it may be; nil where it holds none.
func (f *facts) longAgo(s saying) []string {
	const years = 15
	if len(f.readings) == 0 {
		return nil
	}
	latest := time.Unix(f.readings[0].At, 0).UTC().AddDate(-years, 0, 0).Format(time.DateOnly)
	cells := append(strings.FieldsFunc(s.text(), func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '(' || r == ')' }), s.value)
	for _, c := range cells {
		if w, ok := timeIn(c); ok && w.date != "" {
			c = w.date
		}
		if len(c) < len("1.1.1931") {
			continue
		}
		if dates := datesOfBirth(c); len(dates) > 0 && dates[0] < latest && dates[0] > "1900" {
			return dates
		}
	}
	return nil
}

// SameName reports whether two names can be one person's: all words of the shorter
// are in the longer, in any order, an initial for a word.
func SameName(a, b string) bool {
	a, b = plain(a), plain(b)
	short, long := strings.Fields(a), strings.Fields(b)
	if len(short) > len(long) {
		short, long = long, short
	}
	for _, w := range short {
		i := slices.Index(long, w)
		if i < 0 {
			i = slices.IndexFunc(long, func(l string) bool {
				return utf8.RuneCountInString(w) == 1 && strings.HasPrefix(l, w) || utf8.RuneCountInString(l) == 1 && strings.HasPrefix(w, l)
			})
		}
		if i < 0 {
			return strings.ReplaceAll(a, " ", "") == strings.ReplaceAll(b, " ", "")
		}
		long = slices.Delete(slices.Clone(long), i, i+1)
	}
	return len(short) > 0
}

// Words of [sexes], without accents.
const (
	femaleWords = "|f|female|w|woman|weiblich|femme|mujer|femenino|femmina|vrouw|"
	maleWords   = "|m|male|man|mannlich|homme|hombre|masculino|maschio|"
)

// datesOfBirth gives the dates that a written one may be, or the year alone.
func datesOfBirth(s string) (dates []string) {
	s = strings.TrimSpace(s)
	if len(s) == 4 && onlyDigits(s) {
		return []string{s}
	}
	st, ok := parseStamp(s)
	if !ok || st.form == noDate || st.form == numeric2 {
		return nil
	}
	for _, o := range orders[:2] {
		if d, ok := st.date(o); ok {
			if date := time.Unix(d*86400, 0).UTC().Format(time.DateOnly); !slices.Contains(dates, date) {
				dates = append(dates, date)
			}
		}
	}
	return dates
}

// askMatters asks once about all sayings that may be about what was measured.
func (l *ledger) askMatters(f *facts, list []saying) {
	h := fnv.New32a()
	var quoted []string
	for _, s := range list {
		l.about.take(f, s)
		if f.senseOf(s) == isOther {
			h.Write([]byte(plain(s.text()) + "\n"))
			quoted = append(quoted, strconv.Quote(short(s.text())))
		}
	}
	n := len(quoted)
	if n == 0 {
		return
	}
	says := strings.Join(quoted[:min(n, maxSamples)], ", ")
	if n > maxSamples {
		says = fmt.Sprintf("%s and %d more such things", says, n-maxSamples)
	}
	f.matter = l.ask(fmt.Sprintf("said:%08x", h.Sum32()), fmt.Sprintf("The file says %s. Are its values readings of a glucose sensor all the same, as it took them and in %s?", says, f.unitName()),
		wear.Choice{Value: "remark", Text: "Yes; it is a remark", Effect: "it is kept as words that a person reads"},
		wear.Choice{Value: holdsAside, Text: "Yes; it says nothing of the wear", Effect: "it is set aside"},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file is set aside; nothing of it is filed"})
	if f.matter == "stop" {
		l.aside = true
	}
}

func (f *facts) unitName() string {
	if f.unit == wear.UnitUnknown {
		return "the units of their rows"
	}
	return f.unit.String()
}

// keep adds words, once.
func (f *facts) keep(text string) {
	if !slices.Contains(f.words, text) {
		f.words = append(f.words, text)
	}
}

// mostSaid is how many sayings are words of their own; what there is more stands
// together in one.
const mostSaid = 60

// speak gives the words to the wear, at its first reading and again at the first
// after a long pause, where another wear may begin.
func (f *facts) speak(events []wear.Event) []wear.Event {
	const pause = 24 * 3600
	if len(f.words) == 0 || len(f.readings) == 0 {
		return events
	}
	words := f.words
	if len(words) > mostSaid {
		words = append(slices.Clone(words[:mostSaid-1]), strings.Join(words[mostSaid-1:], "; "))
	}
	at := make([]int64, 0, len(f.readings))
	for _, r := range f.readings {
		at = append(at, r.At)
	}
	slices.Sort(at)
	for i, t := range at {
		if i > 0 && (f.loose || t-at[i-1] < pause) {
			continue
		}
		for _, w := range words {
			events = append(events, wear.Event{At: t, Kind: wear.Undated, Label: w})
		}
	}
	return events
}
