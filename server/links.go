package server

import (
	"strings"

	"wearround/store"
)

// Invitation is a one-time link before its person is known.
type Invitation struct {
	Password string // what is stored in place of one, as a temporary password
	secret   string
}

// NewInvitation makes a link that lets somebody in once, for a few days, to
// choose a password. Give its Password to the store with the new user.
func NewInvitation() Invitation {
	secret := newSecret()
	return Invitation{Password: linkHash(secret), secret: secret}
}

// Address is the whole address of the link; base is where the server can be
// reached, with a slash at its end.
func (i Invitation) Address(base string, userID int64) string {
	return strings.TrimSuffix(base, "/") + "/welcome/" + idText(userID) + "/" + i.secret
}

// SetupLink makes the one-time link of the first start and the hash of it that
// is stored.
func SetupLink(base string) (address string, token store.Digest) {
	secret := newSecret()
	return strings.TrimSuffix(base, "/") + "/set-up/" + secret, digest(secret)
}

// NewToken makes an API token and the hash of it that is stored.
func NewToken() (secret string, hash store.Digest) {
	secret = newSecret()
	return secret, digest(secret)
}
