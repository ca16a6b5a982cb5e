package intake

import (
	"maps"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"wearround/worker/wear"
)

// vocabulary is a closed list of words. A text is understood by it only if every
// word of the text is: one that is not there is not taken to mean nothing.
type vocabulary struct {
	whole map[string]bool // words that stand alone
	stems map[string]bool // words that may be a part of a longer one
}

// newVocabulary takes words apart by blanks and bars. Words of four letters or
// more, and those of scripts that write without blanks, may be part of a longer
// one.
func newVocabulary(lists ...string) *vocabulary {
	v := &vocabulary{make(map[string]bool), make(map[string]bool)}
	for _, list := range lists {
		for w := range strings.FieldsSeq(strings.ReplaceAll(list, "|", " ")) {
			if w = plain(w); w == "" {
				continue
			}
			v.whole[w] = true
			if utf8.RuneCountInString(w) >= 4 || w[0] >= 0xe0 {
				v.stems[w] = true
			}
		}
	}
	return v
}

// understands reports whether every word of a text is known. Numbers and single
// marks are.
func (v *vocabulary) understands(text string) bool {
	if len(text) > 200 {
		return false
	}
	for w := range strings.FieldsSeq(plain(text)) {
		if !v.whole[w] && !onlyDigits(w) && !v.made(w) {
			return false
		}
	}
	return true
}

// ending is how many letters of grammar may stand behind a stem, and between two.
const ending = 2

// made reports whether a word is made of known stems, with endings.
func (v *vocabulary) made(w string) bool {
	const longest = 64
	if len(w) > longest {
		return false
	}
	reached := make([]bool, len(w)+1)
	reached[0] = true
	for i := range w {
		if !reached[i] {
			continue
		}
		for j := i + 1; j <= len(w); j++ {
			if j < len(w) && !utf8.RuneStart(w[j]) || !v.stems[w[i:j]] {
				continue
			}
			reached[j] = true
			if w[i] >= 0xe0 {
				continue // these scripts have no endings
			}
			for k, n := j, 0; k < len(w) && n < ending; n++ {
				_, size := utf8.DecodeRuneInString(w[k:])
				k += size
				reached[k] = true
			}
		}
	}
	return reached[len(w)]
}

// sensorWords are all that may stand in a heading of sensor glucose: glucose,
// its sensor, and words that add nothing, in many languages. "Urine", "predicted"
// or "mean" are not among them, so a heading with such a word is asked about.
var sensorWords = newVocabulary(glucoseNames, glucoseElsewhere, strings.ReplaceAll(autoWords, "|", " "),
	"blutzucker blodsocker blodsukker blood blut sang sangre sangue sanguin bloed blod blodet veren kan vere krvi krew darah damu кров крови кровь αιματος αιμα دم الدم דם रक्त রক্তে রক্ত இரத்த เลือด 血 血中 혈액 혈중 mau đường huyết",
	"sensor capteur sensore sensoru sensör anturi sensori czujnik senzor szenzor szenzoros αισθητηρας αισθητηρα сенсор сензор датчик مستشعر المستشعر חיישן حسگر सेंसर সেন্সর உணரி เซ็นเซอร์ เซนเซอร์ cảm biến kihisi センサー 센서 传感器 感測器",
	"interstitial interstitielle interstitiel intersticial interstiziale interstitiell tissue gewebe gewebs subcutaneous fluid 間質液 间质液 組織間液 组织间液",
	"value values wert werte valeur valeurs valor valores valore valori waarde waarden värde värden verdi værdi arvo arvot wartość hodnota vrijednost érték értékek valoare değer τιμη значение значения значення стойност قيمة ערך مقدار मान মান மதிப்பு ค่า giá trị nilai kiwango 値 数值 値 值 값 数值 數值",
	"reading readings result results measurement measurements measure measured measuring messwert messwerte messung mess mesure lecture lectura medida medición leitura medição lettura misura misurazione meting måling mätning mittaus pomiar odczyt měření meranie mjerenje mérés măsurare ölçüm μετρηση измерение показание قراءة قياس קריאה מדידה रीडिंग पठन পাঠ การวัด kết quả hasil 測定 测量 測量 측정 読取 读数 讀數",
	"amount gemessen aufgezeichnet erfasst par enregistre por medido registrado dal dall misurato registrato pelo pela gemeten door geregistreerd uppmätt registrerad av målt registrert mittaama mitattu zmierzona zmierzone zmierzony zmierzonej namerena namereny nameno ölçülen измеренная измеренный измеренное измеренные измеренной المقاس المقيس मापा गया मापी गई by",
	"level levels spiegel stand taux nivel nível livello gehalte nivå niveau taso pitoisuus poziom hladina razina szint nivel düzey επιπεδο уровень рівень ниво مستوى רמת רמה سطح स्तर মাত্রা அளவு ระดับ mức kadar kiwango 水平 浓度 濃度 농도 수치 concentration konzentration concentración concentração concentrazione koncentration stężenie",
	"automatic automatisch automatique automático automatica automatico automatisk auto continuous kontinuierlich continu continua continuo monitor monitoring monitored cgm sg bg glu data record recorded series column no nr number num",
	"in of the from by at a per im in vom von der die das des de du la le l d dans en del el do da di nel nella van het z ze zo s av fra i fran ya od от в с з из iz na από στο στον 的 の から 에서 의 จาก ใน की का के से में এর থেকে trong của",
	"szöveti vævs væv vevs vev vävnads vävnad kudos kudoksen weefsel tissulaire tissutale tisular крви крвта крові крыві кръвна кръвта krvi krvni krevní krwi kraujyje kraujo asinīs asins sânge veres gwaed fola სისხლში სისხლის gjak odoleko қандағы қан qan qon خون خونی בדם dugo sa",
	"tase kiekis līmenis ниво nivelul lefel დონე მაჩვენებელი მნიშვნელობა արյան մակարդակ մակարդակը деңгейі blóð на u у ў в във во we în ne no",
	"გლუკოზა გლუკოზის შაქარი შაქრის cukier cukr cukrus",
	"mmol mmoll mgdl v val date time datum uhrzeit text الجلوكوز الغلوكوز السكر")

// glucoseNames are the words of [headingWords] for glucose, one by one.
const glucoseNames = "glucose glukose glycemie glucosa glucemia glicemia glicose glucosio glycaemia glycemia zucker sucre azucar zucchero acucar suiker sharkara cheeni sugar " +
	"glucoză glükóz glukóz glukóza glukozu glukosi glicemii glukoze glukozy vércukor cukru cukr שוגר"

// writtenUnits are the spellings of the two units that are read.
var writtenUnits = regexp.MustCompile(`(?i)(m(illi)?mols?(es?)?\s*(/|per|pro|par|por|·|\*|\.|-)?\s*(l(it(er|re|ro|r)s?)?|л)\b\s*(-1|⁻¹|\^-1)?|mmol\s*[.·*]?\s*l\s*(-1|⁻¹|\^-1)|ммоль\s*/\s*л|milligram(me)?s?\s*per\s*(deci|100\s*milli)lit(er|re)s?|millimoles?\s*per\s*lit(er|re)s?|mg[\s.·-]*(/|per|pro|par|por)?[\s.]*(dl|100\s*ml|deci(lit(er|re|ro))?)\b|мг\s*/\s*дл|mg\s*%|㎎\s*/\s*(㎗|dl))`)

// otherUnits are shapes of units of a quantity in a volume or a mass.
var otherUnits = regexp.MustCompile(`(?i)(^|[^\pL])([munpµμкмcd]?(g|gr|grams?|mol|moles?|eq|iu|u|г|моль)\s*(/|per)\s*(100\s*)?[mdcµμкмд]?(l|lit(er|re)s?|л|kg|g|mol|hb)|g\s*%|ppm|vol\s*%|mmol\s*/\s*mol)($|[^\pL])`)

// unitsElsewhere are the two units as other scripts write them, mark and blanks
// left out.
var unitsElsewhere = []struct {
	unit  wear.Unit
	words string
}{
	{wear.MmolL, "ммоль/л ммол/л მმოლ/ლ մմոլ/լ ملي.مول/لتر مليمول/لتر ممول/ل ממול/ליטר ミリモル/リットル 毫摩尔/升 毫摩爾/升 毫莫耳/升 밀리몰/리터 मि.मोल/ली मिलीमोल/लीटर มิลลิโมล/ลิตร มมอล/ล"},
	{wear.MgdL, "мг/дл მგ/დლ մգ/դլ ملغ/ديسيلتر ملغم/ديسيلتر مجم/ديسيلتر مغ/دل ملغ/دل מג/דל ミリグラム/デシリットル 毫克/分升 밀리그램/데시리터 मि.ग्रा./डे.ली. मिग्रा/डेली มก./ดล. มิลลิกรัม/เดซิลิตร"},
}

// elsewhere finds the units of other scripts: each letter by letter for
// [unitElsewhere], and as they are written for [withoutUnit].
var elsewhere = func() (x struct {
	letters []struct {
		text string
		unit wear.Unit
	}
	written *regexp.Regexp
}) {
	var forms []string
	for _, u := range unitsElsewhere {
		for w := range strings.FieldsSeq(u.words) {
			letters := strings.Map(func(r rune) rune {
				if unicode.IsLetter(r) {
					return r
				}
				return -1
			}, norm.NFKC.String(w))
			x.letters = append(x.letters, struct {
				text string
				unit wear.Unit
			}{letters, u.unit})
			forms = append(forms, strings.NewReplacer("/", `[\s./]*`, ".", `[\s.]*`).Replace(w))
		}
	}
	x.written = regexp.MustCompile("(?i)" + strings.Join(forms, "|"))
	return x
}()

// firstElsewhere is the first character beyond the Latin and Greek scripts.
const firstElsewhere = 0x400

// unitElsewhere finds a unit of another script among letters.
func unitElsewhere(letters string) wear.Unit {
	if strings.IndexFunc(letters, func(r rune) bool { return r >= firstElsewhere }) < 0 {
		return wear.UnitUnknown
	}
	for _, e := range elsewhere.letters {
		if strings.Contains(letters, e.text) {
			return e.unit
		}
	}
	return wear.UnitUnknown
}

// withoutUnit takes the unit out of a heading. foreign is one that is not read.
func withoutUnit(text string) (rest, foreign string) {
	rest = writtenUnits.ReplaceAllString(strings.ReplaceAll(text, "_", " "), " ")
	if strings.IndexFunc(rest, func(r rune) bool { return r >= firstElsewhere }) >= 0 {
		rest = elsewhere.written.ReplaceAllString(norm.NFKC.String(rest), " ")
	}
	if m := otherUnits.FindStringSubmatch(rest); m != nil {
		foreign = strings.TrimSpace(m[2])
	}
	return rest, foreign
}

// inBrackets and lastWord find where headings state a unit.
var (
	inBrackets = regexp.MustCompile(`[(（\[{]\s*([^)）\]}]+)`)
	lastWord   = regexp.MustCompile(`[\s,;:/_-]([a-zµμ]{1,3}[A-Z]{1,2}|[a-z]|[A-Za-z]{2})\s*$`)
)

// unknownUnit gives what stands in a heading where a unit does and is none that is
// known: signs, what stands in brackets and is no word of a heading, and a last
// word of one or two letters or of small letters before a capital ("nA"). A capital
// alone tells columns apart.
func unknownUnit(heading string) string {
	rest, foreign := withoutUnit(heading)
	if foreign != "" {
		return foreign
	}
	for _, m := range inBrackets.FindAllStringSubmatch(rest, -1) {
		if s := strings.TrimSpace(m[1]); utf8.RuneCountInString(plain(s)) <= 2 && plain(s) != "" && !onlyDigits(plain(s)) || !sensorWords.understands(s) {
			return s
		}
	}
	if i := strings.IndexAny(rest, "%‰°µ$^"); i >= 0 {
		return strings.TrimSpace(rest[i:])
	}
	if m := lastWord.FindStringSubmatch(rest); m != nil && !shortWords.whole[plain(m[1])] {
		return m[1]
	}
	return ""
}

// shortWords may end a heading.
var shortWords = newVocabulary("no nr sg bg id glu cgm")

// fingerWords may stand in a heading of fingersticks, and scanWords in one of
// readings that the wearer asked for.
var (
	fingerWords = sensorWords.with(headingsOf(roleFinger) + " prick pricks test tests ujung jari ujjbegyes kidole ucu parmak 穿刺 وخز الإصبع ปลาย đầu ngón tay מדקירת אצבע")
	scanWords   = sensorWords.with(headingsOf(roleScan))
)

func headingsOf(r role) string {
	for _, h := range headingWords {
		if h.role == r {
			return h.words
		}
	}
	return ""
}

// with gives a vocabulary that has further words.
func (v *vocabulary) with(list string) *vocabulary {
	out := newVocabulary(list)
	maps.Copy(out.whole, v.whole)
	maps.Copy(out.stems, v.stems)
	return out
}

// wholly gives the role of glucose that a heading, or the name of a kind of
// record, has by [roleOf] only if each of its words is understood.
func wholly(r role, text string) role {
	rest, foreign := withoutUnit(text)
	words := map[role]*vocabulary{roleGlucose: sensorWords, roleScan: scanWords, roleFinger: fingerWords}[r]
	if words != nil && (foreign != "" || !words.understands(rest)) {
		return roleUnknown
	}
	return r
}

// saysSensor reports whether a heading says that its column is the sensor's
// glucose, or a value, and nothing else.
func saysSensor(heading string) bool {
	rest, foreign := withoutUnit(heading)
	return foreign == "" && sensorWords.understands(rest)
}
