package password

import (
	"strings"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
)

// The second factor is the time-based code of RFC 6238: six digits, a step of
// 30 s, and one step of tolerance either way for a clock that is a little off.
const (
	codeStep = 30 // seconds
	codeSkew = 1  // steps
)

// CodeAt is the step of the second factor's clock that code belongs to, or
// false where it belongs to none near now. The caller lets each step count
// once.
func CodeAt(secret, code string, now time.Time) (step int64, ok bool) {
	code = strings.ReplaceAll(code, " ", "")
	at := now.Unix() / codeStep
	for _, step := range []int64{at, at - codeSkew, at + codeSkew} {
		right, err := hotp.ValidateCustom(code, uint64(step), secret, hotp.ValidateOpts{Digits: otp.DigitsSix, Algorithm: otp.AlgorithmSHA1})
		if err == nil && right {
			return step, true
		}
	}
	return 0, false
}
