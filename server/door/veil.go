package door

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/base64"
)

// Veil hides what was searched for, so that it can stand in an address: an
// address is kept by browsers and proxies, and a patient's name must not be.
// Its key goes with the program; what it hid before shows the whole list.
type Veil struct{ cipher.AEAD }

// NewVeil makes a veil with a key of its own.
func NewVeil() Veil {
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
	return Veil{aead}
}

// Cover hides a text; "" stays as it is.
func (v Veil) Cover(text string) string {
	if text == "" {
		return ""
	}
	return base64.RawURLEncoding.EncodeToString(v.Seal(nil, nil, []byte(text), nil))
}

// Uncover gives back what was hidden, or "" for what was not hidden here.
func (v Veil) Uncover(hidden string) string {
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
