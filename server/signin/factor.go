package signin

import (
	"crypto/rand"
	"encoding/base32"
	"image"
	"strings"

	"github.com/pquerna/otp/totp"

	"wearround/server/door"
)

// The second factor is the time-based code of RFC 6238, see [password.CodeAt].
const (
	factorIssuer = "wearround"
	codeCount    = 10
)

// newFactor makes a secret of 160 bits, as RFC 4226 recommends, in base 32.
func newFactor() string {
	secret := make([]byte, 20)
	_, _ = rand.Read(secret) // never fails
	return base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(secret)
}

// factorQR is the picture that an authenticator reads, one value a module; nil
// where it cannot be drawn, as the secret can be typed as well.
func factorQR(secret, login string) [][]bool {
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		return nil
	}
	key, err := totp.Generate(totp.GenerateOpts{Issuer: factorIssuer, AccountName: login, Secret: raw})
	if err != nil {
		return nil
	}
	const side = 512 // pixels: enough for every size of code there is
	img, err := key.Image(side, side)
	if err != nil {
		return nil
	}
	return modules(img)
}

// modules reads the squares of a code back from its picture. The finder in its
// upper left corner begins with seven dark squares in a row.
func modules(img image.Image) [][]bool {
	b := img.Bounds()
	dark := func(x, y int) bool {
		r, _, _, _ := img.At(x, y).RGBA()
		return r < 0x8000
	}
	left, top := -1, -1
	for y := b.Min.Y; y < b.Max.Y && left < 0; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if dark(x, y) {
				left, top = x, y
				break
			}
		}
	}
	if left < 0 {
		return nil
	}
	run := 0
	for left+run < b.Max.X && dark(left+run, top) {
		run++
	}
	size := run / 7
	if size == 0 {
		return nil
	}
	n := (b.Max.X - 2*(left-b.Min.X)) / size
	out := make([][]bool, n)
	for row := range out {
		out[row] = make([]bool, n)
		for col := range out[row] {
			out[row][col] = dark(left+col*size+size/2, top+row*size+size/2)
		}
	}
	return out
}

// newCodes makes recovery codes, each good once, and what is stored of them.
// A code has 80 random bits, so a plain hash cannot be turned back.
func newCodes() (codes, hashes []string) {
	for range codeCount {
		code := strings.ToLower(rand.Text()[:16])
		codes = append(codes, code[:4]+"-"+code[4:8]+"-"+code[8:12]+"-"+code[12:])
		hashes = append(hashes, codeHash(code))
	}
	return codes, hashes
}

// codeHash is what is stored of a recovery code, however it is typed.
func codeHash(code string) string {
	code = strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' {
			return -1
		}
		return r
	}, strings.ToLower(code))
	return door.TokenHash(code)
}
