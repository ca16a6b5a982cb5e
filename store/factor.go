package store

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"strings"
)

// The secrets of second factors are encrypted (AES-256-GCM) under a key made
// from that of the log, which lies outside the database: a copy of the database
// alone lets nobody in. The user's id is bound in, so that a secret cannot be
// put down to somebody else.

// factorPrefix marks an encrypted secret; one without it is from before.
const factorPrefix = "gcm1:"

func (s *Store) factorCipher() (cipher.AEAD, error) {
	if len(s.logKey) == 0 {
		return nil, errNoKey
	}
	h := hmac.New(sha256.New, s.logKey)
	writeField(h, "wearround second factors 1")
	block, err := aes.NewCipher(h.Sum(nil))
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

func factorOwner(userID int64) []byte { return binary.BigEndian.AppendUint64(nil, uint64(userID)) }

// hideFactor is what is stored of a secret; "" stays.
func (s *Store) hideFactor(userID int64, secret string) (string, error) {
	if secret == "" {
		return "", nil
	}
	c, err := s.factorCipher()
	if err != nil {
		return "", err
	}
	nonce := make([]byte, c.NonceSize())
	_, _ = rand.Read(nonce) // never fails
	return factorPrefix + base64.RawStdEncoding.EncodeToString(c.Seal(nonce, nonce, []byte(secret), factorOwner(userID))), nil
}

// showFactor is the secret of what is stored.
func (s *Store) showFactor(userID int64, stored string) (string, error) {
	text, hidden := strings.CutPrefix(stored, factorPrefix)
	if !hidden {
		return stored, nil
	}
	c, err := s.factorCipher()
	if err != nil {
		return "", err
	}
	b, err := base64.RawStdEncoding.DecodeString(text)
	if err != nil || len(b) < c.NonceSize() {
		return "", errors.New("a stored second factor is damaged")
	}
	secret, err := c.Open(nil, b[:c.NonceSize()], b[c.NonceSize():], factorOwner(userID))
	if err != nil {
		return "", errors.New("a stored second factor does not fit the practice's key")
	}
	return string(secret), nil
}

// hideFactors encrypts the secrets that are from before they were.
func (s *Store) hideFactors(ctx context.Context) error {
	plain := map[int64]string{}
	rows, err := s.reader.QueryContext(ctx, "SELECT id, totp_secret FROM users WHERE totp_secret <> '' AND totp_secret NOT LIKE ?", factorPrefix+"%")
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		var secret string
		err := rows.Scan(&id, &secret)
		plain[id] = secret
		return err
	})
	if err != nil || len(plain) == 0 {
		return fail("look for second factors", err)
	}
	return s.write(ctx, "encrypt the second factors", func(t *tx) error {
		for id, secret := range plain {
			hidden, err := s.hideFactor(id, secret)
			if err != nil {
				return err
			}
			if _, err := t.ExecContext(ctx, "UPDATE users SET totp_secret = ? WHERE id = ? AND totp_secret = ?", hidden, id, secret); err != nil {
				return err
			}
		}
		return t.log(ctx, onData, "")
	})
}

// proof stands for the password, the second factor and the access of a user at
// a moment: a sign-in that began with others is not good any more.
func proof(c *Credentials, stored string) Digest {
	h := sha256.New()
	writeNumber(h, c.ID)
	writeField(h, c.Password)
	writeField(h, stored)
	if c.Disabled {
		writeField(h, "disabled")
	}
	return Digest(h.Sum(nil))
}

// still refuses with [ErrSignedOut] where a user's proof is another than it was.
func (t *tx) still(ctx context.Context, userID int64, was Digest) error {
	c := Credentials{User: User{ID: userID}}
	var stored string
	err := t.QueryRowContext(ctx, "SELECT password, totp_secret, disabled FROM users WHERE id = ?", userID).Scan(&c.Password, &stored, &c.Disabled)
	if errors.Is(err, sql.ErrNoRows) || err == nil && proof(&c, stored) != was {
		return ErrSignedOut
	}
	return err
}
