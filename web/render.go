package web

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"html/template"
	"io"
	"sync"

	"wearround/web/form"
	"wearround/worker/wear"
)

// views are the template sets, one a page, each made of the shared layout and
// the page's own file. Each is read when its page is first shown: to read them
// all takes longer than most commands of the program do.
var views = map[string]func() *template.Template{
	"round": parse("round"),
	"wear":  parse("wear"),
	"files": parse("files"),
	"about": parse("about"),
	"look":  parse("round", "look"), // shows the round's rows

	"names":   parse("names"),
	"recipe":  parse("recipe"),
	"recipes": parse("recipes"),

	"signin":  parse("signin"),
	"second":  parse("second"),
	"setup":   parse("setup"),
	"factor":  parse("factor"),
	"codes":   parse("codes"),
	"account": parse("account"),
	"people":  parse("people"),
	"log":     parse("log"),
	"audit":   parse("audit"),

	"call":      parse("call"),
	"outcome":   parse("outcome"),
	"recalls":   parse("recalls"),
	"settings":  parse("settings"),
	"sheet":     parse("sheet"),
	"outbox":    parse("outbox"),
	"printrun":  parse("printrun"),
	"twoweeks":  parse("twoweeks"),
	"out":       parse("out"),
	"handout":   parse("handout"),
	"start":     parse("start"),
	"wordspage": parse("wordspage"),

	"register":    parse("register"),
	"patient":     parse("patient"),
	"patientform": parse("patientform"),
	"import":      parse("import"),
	"merge":       parse("merge"),

	"letters":   parse("letters"),
	"newletter": parse("newletter"),
	"letter":    parse("letter"),
	"sent":      parse("sent"),
	"template":  parse("template"),

	"help":     parse("help"),
	"tour":     parse("tour"),
	"protocol": parse("protocol"),

	"protocoldraft": parse("protocoldraft"), "protocolversion": parse("protocolversion"), "whatif": parse("whatif"),

	"system": parse("system"),

	"error": parse("error"),
}

// parse reads one page's template set once it is asked for, on top of another's
// where it shows parts of that, and panics if it cannot.
func parse(names ...string) func() *template.Template {
	return sync.OnceValue(func() *template.Template {
		name := names[len(names)-1]
		var sources []string
		for _, n := range append([]string{"layout", "shared", "forms", "work", "explain", "pictures"}, names...) {
			sources = append(sources, "templates/"+n+".html")
		}
		help := func() string { return helpAddress(name) }
		t := template.New(name).Option("missingkey=error").Funcs(words).Funcs(template.FuncMap{"help": help})
		return template.Must(t.ParseFS(files, sources...))
	})
}

// words are what templates may call. None depends on a request: what a page
// knows of its reader is in its struct.
var words = template.FuncMap{
	"asset":    Asset,
	"birth":    birthWords,
	"count":    count,
	"date":     dateWords,
	"evidence": evidence,
	"flag":     flagWords,
	"length":   length,
	"key":      func(name string) template.HTML { return ledgerKey[name] },
	"method":   methodAddress,
	"methods":  methodGroups,
	"means":    func(code string) string { return form.WordsOf(form.MeansWords, code) },
	"once":     rand.Text, // a key for each form, so that a repeat of it is known
	"options":  form.OptionsOf,
	"times":    wear.Times,
	"outcome":  func(code string) string { return form.WordsOf(form.OutcomeWords, code) },
	"interval": interval,
	"plain":    plain,
	"number":   number,
	"number64": func(n int64) string { return number(int(n)) },
	"percent":  percent,
	"points":   points,
	"size":     size,
	"sentence": form.Sentence,
	"settings": settingLinks,
}

// pages are buffers to be used again: a page is written whole or not at all.
var pages = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// Render writes the whole page to w, or nothing and an error.
func Render(w io.Writer, page Page) error {
	set, block := page.view()
	b := pages.Get().(*bytes.Buffer)
	defer pages.Put(b)
	b.Reset()
	if err := views[set]().ExecuteTemplate(b, block, page); err != nil {
		return fmt.Errorf("render %s page: %w", set, err)
	}
	if _, err := b.WriteTo(w); err != nil {
		return fmt.Errorf("send %s page: %w", set, err)
	}
	return nil
}
