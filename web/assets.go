package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"wearround/web/face"
)

//go:embed static templates
var files embed.FS

// assetPath is where a server mounts [Assets].
const assetPath = "/static/"

type asset struct {
	name    string // as it is kept: "look.css"
	address string // with part of its hash: "/static/look.3f2a….css"
	body    []byte
	kind    string
}

var assetsByName, assetsByAddress = loadAssets()

// loadAssets hashes every static file once, at start. The hash stands in the
// address, so a browser may keep a file for ever and still never shows an old
// one. The stylesheet asks for the typefaces by such addresses too, so they
// come first.
func loadAssets() (byName, byAddress map[string]asset) {
	byName, byAddress = map[string]asset{}, map[string]asset{}
	kinds := map[string]string{
		".css": "text/css; charset=utf-8",
		".js":  "text/javascript; charset=utf-8",
		".svg": "image/svg+xml",
		".ttf": "font/ttf",
	}
	add := func(name string, body []byte) {
		ext := path.Ext(name)
		if kinds[ext] == "" {
			panic(fmt.Sprintf("web: static file %q has no known kind", name))
		}
		sum := sha256.Sum256(body)
		a := asset{name: name, body: body, kind: kinds[ext]}
		a.address = assetPath + strings.TrimSuffix(name, ext) + "." + hex.EncodeToString(sum[:6]) + ext
		byName[a.name], byAddress[a.address] = a, a
	}
	var faces []string // name and address in turn
	for name, body := range face.Files() {
		add(name, body)
		faces = append(faces, `url("`+name+`")`, `url("`+byName[name].address+`")`)
	}
	entries, err := fs.ReadDir(files, "static")
	if err != nil {
		panic("web: static files: " + err.Error())
	}
	for _, e := range entries {
		body, err := files.ReadFile("static/" + e.Name())
		if err != nil {
			panic("web: static file: " + err.Error())
		}
		if path.Ext(e.Name()) == ".css" {
			body = []byte(strings.NewReplacer(faces...).Replace(string(body)))
		}
		add(e.Name(), body)
	}
	return byName, byAddress
}

// Asset is the address of a static file, with part of its hash in it. It
// panics for a name that does not exist; names come from templates, which are
// executed in tests.
func Asset(name string) string {
	a, ok := assetsByName[name]
	if !ok {
		panic(fmt.Sprintf("web: no static file %q", name))
	}
	return a.address
}

// Assets serves the static files under /static/, each for ever, and answers
// 404 for anything else.
func Assets() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, ok := assetsByAddress[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", a.kind)
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		http.ServeContent(w, r, a.name, time.Time{}, bytes.NewReader(a.body))
	})
}
