package files

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
)

// Recipes lists how each layout is read.
func (s *Files) Recipes(c *gin.Context) (web.Page, error) {
	list, err := s.Store.Recipes(c.Request.Context())
	if err != nil {
		return nil, err
	}
	p := web.RecipesPage{Layout: s.Layout(c)}
	for _, r := range list {
		p.Recipes = append(p.Recipes, recipe(r))
	}
	return p, nil
}

func recipe(r store.Recipe) web.Recipe {
	return web.Recipe{
		ID: r.ID, Fingerprint: r.Layout, State: string(r.State), Answers: r.Answers, SensorKind: r.SensorKind,
		MadeAt: r.MadeAt, WithdrawnAt: r.WithdrawnAt, Reason: r.Reason, Files: r.Files, Wears: r.Wears,
	}
}

// Recipe is the page of one recipe and where it was used.
func (s *Files) Recipe(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	return s.recipePage(c, id, nil)
}

// recipePage is the page of a recipe; a change that was refused is explained on it.
func (s *Files) recipePage(c *gin.Context, id int64, problem error) (web.Page, error) {
	ctx := c.Request.Context()
	r, err := s.Store.Recipe(ctx, id)
	if err != nil {
		return nil, err
	}
	from, err := s.Store.FileByID(ctx, r.FileID)
	if err != nil {
		return nil, err
	}
	wears, err := s.Store.RecipeWears(ctx, id)
	if err != nil {
		return nil, err
	}
	p := web.RecipePage{Layout: s.Layout(c), Recipe: recipe(r)}
	p.Recipe.FromFile = from.Path
	if problem != nil {
		p.Problem, p.Reason = store.Words(problem), c.PostForm("reason")
	}
	for _, w := range wears {
		p.Wears = append(p.Wears, web.RecipeWear{
			WearID: w.ID, Patient: view.Patient(w.Patient), Start: w.Start, End: w.End, Headline: w.Headline, InDoubt: w.InDoubt,
		})
	}
	return p, nil
}

// Withdraw takes a recipe out of use.
func (s *Files) Withdraw(c *gin.Context) (web.Page, error) {
	return s.changeRecipe(c, func(id int64) error {
		return s.Store.Withdraw(c.Request.Context(), id, c.PostForm("reason"))
	})
}

// ReadAgain has the files of a withdrawn recipe read again.
func (s *Files) ReadAgain(c *gin.Context) (web.Page, error) {
	return s.changeRecipe(c, func(id int64) error {
		_, err := s.Store.ReadAgain(c.Request.Context(), id)
		return err
	})
}

// SetKind attaches a sensor kind to a recipe.
func (s *Files) SetKind(c *gin.Context) (web.Page, error) {
	return s.changeRecipe(c, func(id int64) error {
		return s.Store.SetSensorKind(c.Request.Context(), id, strings.TrimSpace(c.PostForm("kind")))
	})
}

// changeRecipe makes a change and shows the recipe as it is then, or why the
// change was refused.
func (s *Files) changeRecipe(c *gin.Context, change func(id int64) error) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	switch err := change(id); store.CodeOf(err) {
	case store.Invalid, store.Conflict:
		return s.recipePage(c, id, err)
	default:
		if err != nil {
			return nil, err
		}
	}
	s.Worker.Look()
	c.Redirect(http.StatusSeeOther, web.RecipeAddress(id))
	return nil, nil
}
