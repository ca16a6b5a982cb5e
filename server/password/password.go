// Package password keeps passwords as hashes and judges new ones.
package password

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is what one argon2id hash takes.
type Cost struct {
	MemoryKiB uint32
	Passes    uint32
	Lanes     uint8
}

// Strong is the second setting that RFC 9106 section 4 recommends: 64 MiB,
// three passes, four lanes. It takes about a fifth of a second.
var Strong = Cost{MemoryKiB: 64 << 10, Passes: 3, Lanes: 4}

// Bounds on what is believed of a stored hash, so that a changed row cannot
// make a sign-in fill the memory.
const (
	maxMemoryKiB = 256 << 10
	maxPasses    = 16
	maxLanes     = 16
	saltBytes    = 16
	hashBytes    = 32
)

// Hasher hashes and checks passwords, at most two at once: sign-in must not
// be a way to fill the memory of the machine.
type Hasher struct {
	cost  Cost
	slots chan struct{}
	dummy string // for names that nobody has, so that they take as long
}

// New makes hashes at a cost; those in the program are made at
// [Strong].
func New(cost Cost) *Hasher {
	p := &Hasher{cost: cost, slots: make(chan struct{}, 2)}
	p.dummy = phc(cost, make([]byte, saltBytes), make([]byte, hashBytes))
	return p
}

// Hash gives the PHC text of a password under a new salt. It waits for its
// turn until ctx ends.
func (p *Hasher) Hash(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails
	sum, err := p.derive(ctx, password, salt, p.cost)
	if err != nil {
		return "", err
	}
	return phc(p.cost, salt, sum), nil
}

// Check reports whether a password belongs to a PHC text, and whether the text
// was made at another cost than today's and should be made anew. An empty text
// stands for a name that nobody has: it takes as long and is never right.
func (p *Hasher) Check(ctx context.Context, password, text string) (ok, stale bool, err error) {
	known := text != ""
	if !known {
		text = p.dummy
	}
	cost, salt, want, err := parsePHC(text)
	if err != nil {
		return false, false, err
	}
	sum, err := p.derive(ctx, password, salt, cost)
	if err != nil {
		return false, false, err
	}
	same := subtle.ConstantTimeCompare(sum, want) == 1
	return same && known, cost != p.cost, nil
}

func (p *Hasher) derive(ctx context.Context, password string, salt []byte, c Cost) ([]byte, error) {
	select {
	case p.slots <- struct{}{}:
		defer func() { <-p.slots }()
	case <-ctx.Done():
		return nil, fmt.Errorf("hash a password: %w", ctx.Err())
	}
	return argon2.IDKey([]byte(password), salt, c.Passes, c.MemoryKiB, c.Lanes, hashBytes), nil
}

var b64 = base64.RawStdEncoding.Strict()

// phc writes a hash as the password-hashing competition's text form.
func phc(c Cost, salt, sum []byte) string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s",
		argon2.Version, c.MemoryKiB, c.Passes, c.Lanes, b64.EncodeToString(salt), b64.EncodeToString(sum))
}

// parsePHC reads what phc wrote and refuses anything out of bounds. The text
// never stands in its error.
func parsePHC(text string) (c Cost, salt, sum []byte, err error) {
	bad := func(what string) error { return fmt.Errorf("stored password hash: %s", what) }
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return c, nil, nil, bad("not of a known kind")
	}
	if c, err = parseCost(parts[3]); err != nil {
		return c, nil, nil, err
	}
	if salt, err = b64.DecodeString(parts[4]); err != nil || len(salt) < 8 || len(salt) > 64 {
		return c, nil, nil, bad("salt not readable")
	}
	if sum, err = b64.DecodeString(parts[5]); err != nil || len(sum) != hashBytes {
		return c, nil, nil, bad("hash not readable")
	}
	return c, salt, sum, nil
}

func parseCost(text string) (Cost, error) {
	bad := fmt.Errorf("stored password hash: cost not readable or out of bounds")
	fields := strings.Split(text, ",")
	if len(fields) != 3 {
		return Cost{}, bad
	}
	var n [3]uint32
	for i, f := range []struct {
		name string
		most uint32
	}{{"m=", maxMemoryKiB}, {"t=", maxPasses}, {"p=", maxLanes}} {
		digits, ok := strings.CutPrefix(fields[i], f.name)
		v, err := strconv.ParseUint(digits, 10, 32)
		if !ok || err != nil || v < 1 || uint32(v) > f.most {
			return Cost{}, bad
		}
		n[i] = uint32(v)
	}
	return Cost{MemoryKiB: n[0], Passes: n[1], Lanes: uint8(n[2])}, nil
}
