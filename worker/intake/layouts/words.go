package layouts

import "strings"

// lang holds general dictionary words of one language, used as headings and marks.
type lang struct {
	Code, Date, Time, Sensor, Finger, Note, Meal, Kind, Yes, No, Mean string
	Lact, Ket, Pulse, Ins, Carb, Dizzy                                string
	AM, PM                                                            string // half-day words, "" if none is usual
	Months                                                            []string
	Comma                                                             bool // the decimal mark is a comma
	DMY                                                               string
}

const langTable = `en|Date|Time|Sensor glucose|Fingerstick glucose|Note|Meal|Kind|yes|no|Daily average|Lactate|Ketones|Pulse|Insulin|Carbohydrate|Dizzy
de|Datum|Uhrzeit|Sensorglukose|Kapilläre Glukose|Notiz|Mahlzeit|Art|ja|nein|Tagesmittel|Laktat|Ketone|Puls|Insulin|Kohlenhydrate|Schwindel
fr|Date|Heure|Glucose capteur|Glycémie capillaire|Remarque|Repas|Type|oui|non|Moyenne du jour|Lactate|Cétones|Pouls|Insuline|Glucides|Vertige
es|Fecha|Hora|Glucosa del sensor|Glucosa capilar|Nota|Comida|Tipo|sí|no|Media diaria|Lactato|Cetonas|Pulso|Insulina|Hidratos de carbono|Mareo
pt|Data|Hora|Glicose do sensor|Glicemia capilar|Observação|Refeição|Tipo|sim|não|Média diária|Lactato|Cetonas|Pulso|Insulina|Carboidratos|Tontura
it|Data|Ora|Glucosio sensore|Glicemia capillare|Nota|Pasto|Tipo|sì|no|Media giornaliera|Lattato|Chetoni|Polso|Insulina|Carboidrati|Capogiro
nl|Datum|Tijd|Sensorglucose|Vingerprikglucose|Opmerking|Maaltijd|Soort|ja|nee|Daggemiddelde|Lactaat|Ketonen|Hartslag|Insuline|Koolhydraten|Duizelig
sv|Datum|Klockslag|Sensorglukos|Kapillärt glukos|Anteckning|Måltid|Typ|ja|nej|Dygnsmedel|Laktat|Ketoner|Puls|Insulin|Kolhydrater|Yrsel
da|Dato|Klokkeslæt|Sensorglukose|Kapillær glukose|Bemærkning|Måltid|Type|ja|nej|Døgngennemsnit|Laktat|Ketoner|Puls|Insulin|Kulhydrater|Svimmel
nb|Dato|Klokkeslett|Sensorglukose|Fingerstikkglukose|Merknad|Måltid|Type|ja|nei|Døgnmiddel|Laktat|Ketoner|Puls|Insulin|Karbohydrater|Svimmel
fi|Päivämäärä|Kellonaika|Sensoriglukoosi|Sormenpääglukoosi|Huomautus|Ateria|Laji|kyllä|ei|Vuorokauden keskiarvo|Laktaatti|Ketonit|Syke|Insuliini|Hiilihydraatit|Huimaus
pl|Data|Godzina|Glukoza z sensora|Glukoza z palca|Uwaga|Posiłek|Rodzaj|tak|nie|Średnia dobowa|Mleczan|Ketony|Tętno|Insulina|Węglowodany|Zawroty głowy
cs|Datum|Čas|Glukóza ze senzoru|Glukóza z prstu|Poznámka|Jídlo|Druh|ano|ne|Denní průměr|Laktát|Ketony|Tep|Inzulin|Sacharidy|Závrať
sk|Dátum|Čas|Glukóza zo senzora|Glukóza z prsta|Poznámka|Jedlo|Druh|áno|nie|Denný priemer|Laktát|Ketóny|Pulz|Inzulín|Sacharidy|Závrat
hr|Datum|Vrijeme|Glukoza senzora|Glukoza iz prsta|Napomena|Obrok|Vrsta|da|ne|Dnevni prosjek|Laktat|Ketoni|Puls|Inzulin|Ugljikohidrati|Vrtoglavica
hu|Dátum|Időpont|Szenzoros glükóz|Ujjbegyes glükóz|Megjegyzés|Étkezés|Típus|igen|nem|Napi átlag|Laktát|Ketonok|Pulzus|Inzulin|Szénhidrát|Szédülés
ro|Data|Ora|Glucoză senzor|Glicemie capilară|Observații|Masă|Tip|da|nu|Medie zilnică|Lactat|Cetone|Puls|Insulină|Carbohidrați|Amețeală
tr|Tarih|Saat|Sensör glukozu|Parmak ucu glukozu|Not|Öğün|Tür|evet|hayır|Günlük ortalama|Laktat|Keton|Nabız|İnsülin|Karbonhidrat|Baş dönmesi
el|Ημερομηνία|Ώρα|Γλυκόζη αισθητήρα|Τριχοειδική γλυκόζη|Σημείωση|Γεύμα|Είδος|ναι|όχι|Ημερήσιος μέσος όρος|Γαλακτικό|Κετόνες|Σφυγμός|Ινσουλίνη|Υδατάνθρακες|Ζάλη
ru|Дата|Время|Глюкоза сенсора|Глюкоза из пальца|Примечание|Еда|Вид|да|нет|Среднее за сутки|Лактат|Кетоны|Пульс|Инсулин|Углеводы|Головокружение
uk|Дата|Час|Глюкоза сенсора|Глюкоза з пальця|Примітка|Їжа|Вид|так|ні|Середнє за добу|Лактат|Кетони|Пульс|Інсулін|Вуглеводи|Запаморочення
bg|Дата|Час|Глюкоза от сензор|Глюкоза от пръст|Бележка|Хранене|Вид|да|не|Средно за деня|Лактат|Кетони|Пулс|Инсулин|Въглехидрати|Световъртеж
ar|التاريخ|الوقت|جلوكوز المستشعر|جلوكوز وخز الإصبع|ملاحظة|وجبة|النوع|نعم|لا|المتوسط اليومي|لاكتات|كيتونات|النبض|أنسولين|كربوهيدرات|دوخة
he|תאריך|שעה|גלוקוז חיישן|גלוקוז מדקירת אצבע|הערה|ארוחה|סוג|כן|לא|ממוצע יומי|לקטט|קטונים|דופק|אינסולין|פחמימות|סחרחורת
fa|تاریخ|ساعت|گلوکز حسگر|گلوکز نوک انگشت|یادداشت|وعده غذا|نوع|بله|خیر|میانگین روزانه|لاکتات|کتون|نبض|انسولین|کربوهیدرات|سرگیجه
hi|दिनांक|समय|सेंसर ग्लूकोज़|उंगली से ग्लूकोज़|टिप्पणी|भोजन|प्रकार|हाँ|नहीं|दैनिक औसत|लैक्टेट|कीटोन|नाड़ी|इंसुलिन|कार्बोहाइड्रेट|चक्कर
bn|তারিখ|সময়|সেন্সর গ্লুকোজ|আঙুলের গ্লুকোজ|মন্তব্য|খাবার|ধরন|হ্যাঁ|না|দৈনিক গড়|ল্যাকটেট|কিটোন|নাড়ি|ইনসুলিন|শর্করা|মাথা ঘোরা
ta|தேதி|நேரம்|உணரி குளுக்கோஸ்|விரல் குளுக்கோஸ்|குறிப்பு|உணவு|வகை|ஆம்|இல்லை|தினசரி சராசரி|லாக்டேட்|கீட்டோன்|நாடித்துடிப்பு|இன்சுலின்|மாவுச்சத்து|தலைச்சுற்றல்
th|วันที่|เวลา|กลูโคสจากเซ็นเซอร์|กลูโคสจากปลายนิ้ว|หมายเหตุ|มื้ออาหาร|ประเภท|ใช่|ไม่|ค่าเฉลี่ยรายวัน|แลคเตท|คีโตน|ชีพจร|อินซูลิน|คาร์โบไฮเดรต|เวียนหัว
vi|Ngày|Giờ|Glucose cảm biến|Glucose đầu ngón tay|Ghi chú|Bữa ăn|Loại|có|không|Trung bình ngày|Lactat|Ceton|Nhịp tim|Insulin|Carbohydrat|Chóng mặt
id|Tanggal|Waktu|Glukosa sensor|Glukosa ujung jari|Catatan|Makan|Jenis|ya|tidak|Rata-rata harian|Laktat|Keton|Nadi|Insulin|Karbohidrat|Pusing
sw|Tarehe|Saa|Glukosi ya kihisi|Glukosi ya kidole|Maelezo|Mlo|Aina|ndiyo|hapana|Wastani wa siku|Lakteti|Ketoni|Mapigo ya moyo|Insulini|Wanga|Kizunguzungu
ja|日付|時刻|センサーグルコース|指先穿刺グルコース|備考|食事|種類|はい|いいえ|日平均|乳酸|ケトン|脈拍|インスリン|炭水化物|めまい
ko|날짜|시각|센서 포도당|손끝 포도당|비고|식사|종류|예|아니오|일일 평균|젖산|케톤|맥박|인슐린|탄수화물|어지러움
zh|日期|时间|传感器葡萄糖|指尖葡萄糖|备注|进餐|类型|是|否|日均值|乳酸|酮体|脉搏|胰岛素|碳水化合物|头晕
zt|日期|時間|感測器葡萄糖|指尖葡萄糖|備註|進餐|類型|是|否|日平均|乳酸|酮體|脈搏|胰島素|碳水化合物|頭暈`

const halfTable = `en|am|pm
es|a. m.|p. m.
el|π.μ.|μ.μ.
ko|오전|오후
ja|午前|午後
zh|上午|下午
zt|上午|下午
hi|पूर्वाह्न|अपराह्न
ar|ص|م
fa|ق.ظ|ب.ظ
vi|SA|CH
hu|de.|du.
tr|ÖÖ|ÖS
cs|dop.|odp.
bn|পূর্বাহ্ন|অপরাহ্ন
ta|முற்பகல்|பிற்பகல்`

const monthTable = `en|January|February|March|April|May|June|July|August|September|October|November|December
de|Januar|Februar|März|April|Mai|Juni|Juli|August|September|Oktober|November|Dezember
fr|janvier|février|mars|avril|mai|juin|juillet|août|septembre|octobre|novembre|décembre
es|enero|febrero|marzo|abril|mayo|junio|julio|agosto|septiembre|octubre|noviembre|diciembre
pt|janeiro|fevereiro|março|abril|maio|junho|julho|agosto|setembro|outubro|novembro|dezembro
it|gennaio|febbraio|marzo|aprile|maggio|giugno|luglio|agosto|settembre|ottobre|novembre|dicembre
nl|januari|februari|maart|april|mei|juni|juli|augustus|september|oktober|november|december
sv|januari|februari|mars|april|maj|juni|juli|augusti|september|oktober|november|december
fi|tammikuuta|helmikuuta|maaliskuuta|huhtikuuta|toukokuuta|kesäkuuta|heinäkuuta|elokuuta|syyskuuta|lokakuuta|marraskuuta|joulukuuta
pl|stycznia|lutego|marca|kwietnia|maja|czerwca|lipca|sierpnia|września|października|listopada|grudnia
cs|ledna|února|března|dubna|května|června|července|srpna|září|října|listopadu|prosince
hu|január|február|március|április|május|június|július|augusztus|szeptember|október|november|december
ro|ianuarie|februarie|martie|aprilie|mai|iunie|iulie|august|septembrie|octombrie|noiembrie|decembrie
tr|Ocak|Şubat|Mart|Nisan|Mayıs|Haziran|Temmuz|Ağustos|Eylül|Ekim|Kasım|Aralık
el|Ιανουαρίου|Φεβρουαρίου|Μαρτίου|Απριλίου|Μαΐου|Ιουνίου|Ιουλίου|Αυγούστου|Σεπτεμβρίου|Οκτωβρίου|Νοεμβρίου|Δεκεμβρίου
ru|января|февраля|марта|апреля|мая|июня|июля|августа|сентября|октября|ноября|декабря
uk|січня|лютого|березня|квітня|травня|червня|липня|серпня|вересня|жовтня|листопада|грудня
he|ינואר|פברואר|מרץ|אפריל|מאי|יוני|יולי|אוגוסט|ספטמבר|אוקטובר|נובמבר|דצמבר
ar|يناير|فبراير|مارس|أبريل|مايو|يونيو|يوليو|أغسطس|سبتمبر|أكتوبر|نوفمبر|ديسمبر
hi|जनवरी|फ़रवरी|मार्च|अप्रैल|मई|जून|जुलाई|अगस्त|सितंबर|अक्टूबर|नवंबर|दिसंबर
th|มกราคม|กุมภาพันธ์|มีนาคม|เมษายน|พฤษภาคม|มิถุนายน|กรกฎาคม|สิงหาคม|กันยายน|ตุลาคม|พฤศจิกายน|ธันวาคม
id|Januari|Februari|Maret|April|Mei|Juni|Juli|Agustus|September|Oktober|November|Desember`

// weekdays, Sunday first, for "the weekday comes first" styles.
const weekTable = `en|Sunday|Monday|Tuesday|Wednesday|Thursday|Friday|Saturday
de|Sonntag|Montag|Dienstag|Mittwoch|Donnerstag|Freitag|Samstag
fr|dimanche|lundi|mardi|mercredi|jeudi|vendredi|samedi
es|domingo|lunes|martes|miércoles|jueves|viernes|sábado
it|domenica|lunedì|martedì|mercoledì|giovedì|venerdì|sabato
nl|zondag|maandag|dinsdag|woensdag|donderdag|vrijdag|zaterdag
pl|niedziela|poniedziałek|wtorek|środa|czwartek|piątek|sobota
ru|воскресенье|понедельник|вторник|среда|четверг|пятница|суббота
tr|Pazar|Pazartesi|Salı|Çarşamba|Perşembe|Cuma|Cumartesi
ja|日曜日|月曜日|火曜日|水曜日|木曜日|金曜日|土曜日
ko|일요일|월요일|화요일|수요일|목요일|금요일|토요일`

var (
	langs    = map[string]*lang{}
	langCode []string
	weekdays = map[string][]string{}
)

func init() {
	for _, s := range strings.Split(langTable, "\n") {
		f := strings.Split(s, "|")
		if len(f) != 17 {
			panic("words: " + s)
		}
		l := &lang{Code: f[0], Date: f[1], Time: f[2], Sensor: f[3], Finger: f[4], Note: f[5], Meal: f[6], Kind: f[7],
			Yes: f[8], No: f[9], Mean: f[10], Lact: f[11], Ket: f[12], Pulse: f[13], Ins: f[14], Carb: f[15], Dizzy: f[16]}
		switch l.Code {
		case "en", "ar", "he", "hi", "bn", "ta", "th", "sw", "ja", "ko", "zh", "zt", "fa":
		default:
			l.Comma = true
		}
		switch l.Code {
		case "de", "cs", "sk", "pl", "fi", "ru", "uk", "bg", "ro", "tr", "nb", "hr":
			l.DMY = "02.01.2006"
		case "nl", "da":
			l.DMY = "02-01-2006"
		case "sv", "en", "fa":
			l.DMY = "2006-01-02"
		case "hu":
			l.DMY = "2006.01.02."
		case "ja", "zh", "zt":
			l.DMY = "2006/01/02"
		case "ko":
			l.DMY = "2006. 1. 2."
		default:
			l.DMY = "02/01/2006"
		}
		langs[l.Code] = l
		langCode = append(langCode, l.Code)
	}
	for _, s := range strings.Split(halfTable, "\n") {
		f := strings.Split(s, "|")
		langs[f[0]].AM, langs[f[0]].PM = f[1], f[2]
	}
	for _, s := range strings.Split(monthTable, "\n") {
		f := strings.Split(s, "|")
		langs[f[0]].Months = f[1:]
	}
	for _, s := range strings.Split(weekTable, "\n") {
		f := strings.Split(s, "|")
		weekdays[f[0]] = f[1:]
	}
}
