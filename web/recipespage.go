package web

import (
	"slices"
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// RecipesPage lists how each layout is read.
type RecipesPage struct {
	Layout
	Recipes []Recipe
}

// RecipePage is one recipe and where it was used.
type RecipePage struct {
	Layout
	Recipe  Recipe
	Wears   []RecipeWear // those it was used for, newest first
	Problem string       // why the last change was not made, or ""
	Reason  string       // as it was typed when the change was not made
}

// Recipe is the remembered way of reading one layout.
type Recipe struct {
	ID          int64
	Fingerprint string          // of the layout; only its first digits are shown
	State       string          // "in_force", "replaced" or "withdrawn"
	Answers     []wear.Decision // what people decided
	SensorKind  string          // or ""
	MadeAt      time.Time
	FromFile    string // name of the file it was made from
	WithdrawnAt time.Time
	Reason      string // why it was withdrawn
	Files       int    // read by it
	Wears       int    // that they brought or joined
}

// RecipeWear is a wear that a recipe was used for.
type RecipeWear struct {
	WearID     int64
	Patient    form.Patient
	Start, End time.Time
	Headline   string
	InDoubt    bool
}

func (RecipesPage) view() (set, block string) { return "recipes", "page" }

func (RecipePage) view() (set, block string) { return "recipe", "page" }

// RecipeGroup is some of the recipes under one heading.
type RecipeGroup struct {
	ID      string
	Title   string
	About   string
	Recipes []Recipe
}

// Groups are the recipes that people had a hand in, those that the values
// settled, and those that are used no more.
func (p RecipesPage) Groups() []RecipeGroup {
	groups := []RecipeGroup{
		{ID: "answered", Title: "Answered by people", About: "The next file of the layout is read with these answers and asks nothing, as long as its own values do not contradict them."},
		{ID: "settled", Title: "Settled by the values", About: "Nothing had to be asked. Each file is still checked from its own values."},
		{ID: "over", Title: "No longer used", About: "Replaced by newer answers, or withdrawn because they were wrong."},
	}
	for _, r := range p.Recipes {
		g := &groups[1]
		switch {
		case r.State != "in_force":
			g = &groups[2]
		case len(r.Answers) > 0:
			g = &groups[0]
		}
		g.Recipes = append(g.Recipes, r)
	}
	var out []RecipeGroup
	for _, g := range groups {
		if len(g.Recipes) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// Asked reports whether people had a hand in some recipe of the group.
func (g RecipeGroup) Asked() bool {
	return slices.ContainsFunc(g.Recipes, func(r Recipe) bool { return len(r.Answers) > 0 })
}

// Address is the recipe's page.
func (r Recipe) Address() string { return RecipeAddress(r.ID) }

// RecipeAddress is the page of a recipe.
func RecipeAddress(id int64) string { return "/recipes/" + strconv.FormatInt(id, 10) }

// Short is enough of the layout's fingerprint to tell it from the others.
func (r Recipe) Short() string { return limitRunes(r.Fingerprint, 12) }

// Withdrawn reports whether the recipe was withdrawn.
func (r Recipe) Withdrawn() bool { return r.State == "withdrawn" }

// Used says how often the recipe was used.
func (r Recipe) Used() string { return count(r.Files, "file") + ", " + count(r.Wears, "wear") }

// StateWords says whether the recipe is used.
func (p RecipesPage) StateWords(r Recipe) string { return p.Layout.recipeState(r) }

// StateWords says whether the recipe is used.
func (p RecipePage) StateWords() string { return p.Layout.recipeState(p.Recipe) }

func (l Layout) recipeState(r Recipe) string {
	switch r.State {
	case "in_force":
		return "in force"
	case "replaced":
		return "replaced by newer answers"
	case "withdrawn":
		return "withdrawn on " + l.When(r.WithdrawnAt) + ": “" + r.Reason + "”"
	}
	return "not known"
}

// Address is the wear's page.
func (w RecipeWear) Address() string { return wearAddress(w.WearID, Window{}) }
