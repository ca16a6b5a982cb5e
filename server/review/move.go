package review

import (
	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// Move gives a wear to the patient whose it is. The code alone is not enough:
// one wrong digit is another person, so the page says who that is first.
func (s *Review) Move(c *gin.Context) (web.Page, error) {
	m, wrong := form.ParseMove(c.Request.PostForm)
	var who store.Patient
	if len(wrong) == 0 {
		var err error
		who, err = s.Store.PatientByCode(c.Request.Context(), m.Code)
		switch {
		case store.CodeOf(err) == store.NotFound && err != nil:
			wrong = []form.FieldError{{Field: "code", Text: "No patient on the register has this code. Check it in the register."}}
		case err != nil:
			return nil, err
		case m.Sure != who.Code:
			c.Request.PostForm.Set("sure", who.Code)
			wrong = []form.FieldError{{Field: "code", Text: door.Known(who) + " Is that the person? Press again if so; correct the code if not."}}
		}
	}
	return s.onWear(c, "move", wrong, func(id int64) error {
		_, err := s.Store.MoveWear(c.Request.Context(), door.Actor(c), store.NewMove{WearID: id, To: who.ID, Reason: m.Reason, Results: m.Results})
		return err
	})
}
