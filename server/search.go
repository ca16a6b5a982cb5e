package server

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/base64"
	"net/url"

	"github.com/gin-gonic/gin"

	"wearround/web"
)

// veil hides what was searched for, so that it can stand in an address: an
// address is kept by browsers and proxies, and a patient's name must not be.
// Its key goes with the program; what it hid before shows the whole list.
type veil struct{ cipher.AEAD }

func newVeil() veil {
	key := make([]byte, 32)
	rand.Read(key) // never fails
	block, err := aes.NewCipher(key)
	if err != nil {
		panic("server: " + err.Error()) // cannot happen for 32 bytes
	}
	aead, err := cipher.NewGCMWithRandomNonce(block)
	if err != nil {
		panic("server: " + err.Error()) // cannot happen for this cipher
	}
	return veil{aead}
}

// cover hides a text; "" stays as it is.
func (v veil) cover(text string) string {
	if text == "" {
		return ""
	}
	return base64.RawURLEncoding.EncodeToString(v.Seal(nil, nil, []byte(text), nil))
}

// uncover gives back what was hidden, or "" for what was not hidden here.
func (v veil) uncover(hidden string) string {
	b, err := base64.RawURLEncoding.DecodeString(hidden)
	if err != nil {
		return ""
	}
	text, err := v.Open(nil, nil, b, nil)
	if err != nil {
		return ""
	}
	return string(text)
}

// roundFilter is the filter of the round in an address or a form.
func (s *Server) roundFilter(v url.Values) web.RoundFilter {
	f := web.ParseRoundFilter(v)
	if f.Text = s.veil.uncover(f.Veiled); f.Text == "" {
		f.Veiled = ""
	}
	return f
}

// searchRound shows the round as the form filters it.
func (s *Server) searchRound(c *gin.Context) (web.Page, error) {
	f := web.ParseRoundFilter(c.Request.PostForm)
	f.Text = web.ParseSearch(c.Request.PostForm)
	f.Veiled = s.veil.cover(f.Text)
	return goTo(c, f.Address())
}

// searchRegister shows the part of the register that matches.
func (s *Server) searchRegister(c *gin.Context) (web.Page, error) {
	f := web.RegisterFilter{Text: web.ParseSearch(c.Request.PostForm)}
	f.Veiled = s.veil.cover(f.Text)
	return goTo(c, f.Address())
}
