package door

import (
	"encoding/hex"
	"strings"
	"time"

	"wearround/store"
)

// TokenHash is what is stored of a secret, as text.
func TokenHash(token string) string {
	sum := Digest(token)
	return hex.EncodeToString(sum[:])
}

// Invitation is a one-time link before its person is known.
type Invitation struct {
	Password string // what is stored in place of one, as a temporary password
	secret   string
}

// NewInvitation makes a link that lets somebody in once, for a few days, to
// choose a password. Give its Password to the store with the new user.
func NewInvitation() Invitation {
	secret := NewSecret()
	return Invitation{Password: LinkHash(secret), secret: secret}
}

// Address is the whole address of the link; base is where the server can be
// reached, with a slash at its end.
func (i Invitation) Address(base string, userID int64) string {
	return strings.TrimSuffix(base, "/") + "/welcome/" + IDText(userID) + "/" + i.secret
}

// SetupLink makes the one-time link of the first start and the hash of it that
// is stored.
func SetupLink(base string) (address string, token store.Digest) {
	secret := NewSecret()
	return strings.TrimSuffix(base, "/") + "/set-up/" + secret, Digest(secret)
}

// NewToken makes an API token and the hash of it that is stored.
func NewToken() (secret string, hash store.Digest) {
	secret = NewSecret()
	return secret, Digest(secret)
}

// LinkLife is how long a one-time link to choose a password is good. A
// proposal: somebody who starts on Monday gets it on Friday.
const LinkLife = 4 * 24 * time.Hour

// LinkHash is what is stored in place of a password while a one-time link is
// out. It is no PHC text, so no password can match it; the link has 256 random
// bits, so a plain hash of it gives nothing away.
func LinkHash(secret string) string { return "link$" + TokenHash(secret) }
