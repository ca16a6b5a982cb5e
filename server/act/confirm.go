package act

import (
	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/web/form"
)

// Confirm checks the current password of whoever is signed in, which the form
// gives as "current", before something grave is done; under the same waits as a
// sign-in. It gives what is wrong, in words, or nil.
func (s *Acts) Confirm(c *gin.Context) ([]form.FieldError, error) {
	ctx, user := c.Request.Context(), door.VisitorOf(c).User
	wait, err := s.Store.TrySignIn(ctx, user.Login, s.Address(c))
	if err != nil {
		return nil, err
	}
	if !wait.IsZero() {
		return []form.FieldError{{Field: "current", Text: "Too many tries went wrong. Try again at " + wait.In(s.Zone).Format("15:04:05") + "."}}, nil
	}
	who, err := s.Store.Credentials(ctx, user.Login)
	if err != nil {
		return nil, err
	}
	ok, _, err := s.Passwords.Check(ctx, c.PostForm("current"), who.Password)
	if err != nil || ok {
		return nil, err
	}
	return s.failed(c, "current", "This is not your current password.")
}

// ConfirmBoth checks the password and then the second factor, which the form
// gives as "code"; each code counts once.
func (s *Acts) ConfirmBoth(c *gin.Context) ([]form.FieldError, error) {
	ctx, user := c.Request.Context(), door.VisitorOf(c).User
	if !user.SecondFactor {
		return []form.FieldError{{Text: "Whoever signs needs a second factor. Set one up under your name above."}}, nil
	}
	if wrong, err := s.Confirm(c); wrong != nil || err != nil {
		return wrong, err
	}
	who, err := s.Store.Credentials(ctx, user.Login)
	if err != nil {
		return nil, err
	}
	step, right := password.CodeAt(who.TOTPSecret, c.PostForm("code"), s.Now())
	if right {
		err = s.Store.UseTOTPStep(ctx, user.ID, step)
	}
	if right && store.CodeOf(err) != store.Forbidden {
		return nil, err
	}
	return s.failed(c, "code", "This code is not right, or was used already. Wait for the next one.")
}

// failed counts a try that went wrong and says so.
func (s *Acts) failed(c *gin.Context, field, text string) ([]form.FieldError, error) {
	err := s.Store.SignInFailed(c.Request.Context(), door.Me(c), c.GetString(door.Reference))
	return []form.FieldError{{Field: field, Text: text}}, err
}
