package intake

import (
	"strings"
	"sync"
	"time"

	"github.com/go-playground/locales"
	"github.com/go-playground/locales/ar"
	"github.com/go-playground/locales/bg"
	"github.com/go-playground/locales/bn"
	"github.com/go-playground/locales/ca"
	"github.com/go-playground/locales/cs"
	"github.com/go-playground/locales/da"
	"github.com/go-playground/locales/de"
	"github.com/go-playground/locales/el"
	"github.com/go-playground/locales/en"
	"github.com/go-playground/locales/es"
	"github.com/go-playground/locales/et"
	"github.com/go-playground/locales/eu"
	"github.com/go-playground/locales/fa"
	"github.com/go-playground/locales/fi"
	"github.com/go-playground/locales/fil"
	"github.com/go-playground/locales/fr"
	"github.com/go-playground/locales/gl"
	"github.com/go-playground/locales/gu"
	"github.com/go-playground/locales/he"
	"github.com/go-playground/locales/hi"
	"github.com/go-playground/locales/hr"
	"github.com/go-playground/locales/hu"
	"github.com/go-playground/locales/hy"
	"github.com/go-playground/locales/id"
	"github.com/go-playground/locales/is"
	"github.com/go-playground/locales/it"
	"github.com/go-playground/locales/ka"
	"github.com/go-playground/locales/kk"
	"github.com/go-playground/locales/kn"
	"github.com/go-playground/locales/lt"
	"github.com/go-playground/locales/lv"
	"github.com/go-playground/locales/mk"
	"github.com/go-playground/locales/ml"
	"github.com/go-playground/locales/mr"
	"github.com/go-playground/locales/ms"
	"github.com/go-playground/locales/nb"
	"github.com/go-playground/locales/nl"
	"github.com/go-playground/locales/pa"
	"github.com/go-playground/locales/pl"
	"github.com/go-playground/locales/pt"
	"github.com/go-playground/locales/ro"
	"github.com/go-playground/locales/ru"
	"github.com/go-playground/locales/sk"
	"github.com/go-playground/locales/sl"
	"github.com/go-playground/locales/sq"
	"github.com/go-playground/locales/sr"
	"github.com/go-playground/locales/sv"
	"github.com/go-playground/locales/sw"
	"github.com/go-playground/locales/ta"
	"github.com/go-playground/locales/te"
	"github.com/go-playground/locales/th"
	"github.com/go-playground/locales/tr"
	"github.com/go-playground/locales/uk"
	"github.com/go-playground/locales/ur"
	"github.com/go-playground/locales/uz"
	"github.com/go-playground/locales/vi"
)

// tongues are the languages whose month names are read, as the Unicode Common
// Locale Data Repository (CLDR) has them.
var tongues = []func() locales.Translator{
	ar.New, bg.New, bn.New, ca.New, cs.New, da.New, de.New, el.New, en.New, es.New, et.New, eu.New, fa.New, fi.New, fil.New, fr.New, gl.New,
	gu.New, he.New, hi.New, hr.New, hu.New, hy.New, id.New, is.New, it.New, ka.New, kk.New, kn.New, lt.New, lv.New, mk.New, ml.New, mr.New,
	ms.New, nb.New, nl.New, pa.New, pl.New, pt.New, ro.New, ru.New, sk.New, sl.New, sq.New, sr.New, sv.New, sw.New, ta.New, te.New, th.New,
	tr.New, uk.New, ur.New, uz.New, vi.New,
}

// monthWords gives the month that a name stands for. A name that means one
// month here and another there, such as "listopad", stands for none.
var monthWords = sync.OnceValue(func() map[string]int {
	words := make(map[string]int)
	add := func(name string, month int) {
		name = plain(name)
		if len(name) < 3 || strings.Trim(name, "0123456789 ") == "" {
			return
		}
		if was, known := words[name]; known && was != month {
			month = 0
		}
		words[name] = month
	}
	for _, tongue := range tongues {
		t := tongue()
		for m := time.January; m <= time.December; m++ {
			add(t.MonthWide(m), int(m))
			add(t.MonthAbbreviated(m), int(m))
		}
	}
	return words
})

// weekdayWords are the names of the days of the week in any language.
var weekdayWords = sync.OnceValue(func() map[string]bool {
	words := make(map[string]bool)
	for _, tongue := range tongues {
		t := tongue()
		for d := time.Sunday; d <= time.Saturday; d++ {
			words[plain(t.WeekdayWide(d))], words[plain(t.WeekdayAbbreviated(d))] = true, true
		}
	}
	return words
})

// monthIn gives the month that a word names in any language, or 0. Endings of
// the noun's other cases may be missing or added.
func monthIn(word string) int {
	p := plain(word)
	if m, known := monthWords()[p]; known {
		return m
	}
	if m := monthOf(p); m > 0 && len(p) >= 3 {
		return m
	}
	if len(p) < 6 {
		return 0
	}
	month := 0
	for _, name := range monthStarts()[p[:5]] {
		long := min(len(name), len(p))
		if long < 6 || len(name)-long > 6 || len(p)-long > 6 || sharedStart(name, p) < long-3 {
			continue
		}
		if name[0] == 0xe0 && sharedStart(name, p) < long {
			continue // a letter of the Indic scripts is three bytes, and their vowel signs are gone
		}
		if m := monthWords()[name]; month > 0 && month != m {
			return 0
		} else {
			month = m
		}
	}
	return month
}

// monthStarts lists the names of months by their first five bytes.
var monthStarts = sync.OnceValue(func() map[string][]string {
	starts := make(map[string][]string)
	for name, m := range monthWords() {
		if m > 0 && len(name) >= 6 {
			starts[name[:5]] = append(starts[name[:5]], name)
		}
	}
	return starts
})

func sharedStart(a, b string) int {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	return i
}
