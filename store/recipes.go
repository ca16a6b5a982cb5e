package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"regexp"
	"strings"
	"time"

	"wearround/worker/wear"
)

// RecipeState says whether a recipe is used.
type RecipeState string

// States of a recipe. Each layout has at most one in force.
const (
	InForce   RecipeState = "in_force"
	Replaced  RecipeState = "replaced"  // people answered anew; what was read by it still stands
	Withdrawn RecipeState = "withdrawn" // it was wrong; what was read by it is in doubt
)

// Recipe is the remembered way of reading one layout. It never holds anything
// of a person.
type Recipe struct {
	ID          int64
	Layout      string // fingerprint
	State       RecipeState
	Body        json.RawMessage // of the reader of files; not understood here
	Answers     []wear.Decision // what people decided; none where the values settled everything
	SensorKind  string          // of the wears read by it, or ""
	MadeAt      time.Time
	FileID      int64     // the file that it was made from
	WithdrawnAt time.Time // zero unless withdrawn
	Reason      string    // why it was withdrawn
	Files       int       // files read by it, itself included
	Wears       int       // wears that those files brought or joined
}

// Learned is what a filed file taught about its layout.
type Learned struct {
	Body    json.RawMessage
	Answers []wear.Decision // those of people that belong to the layout
}

// RecipeBook is what reading needs to know of recipes, at one moment. It is
// never changed.
type RecipeBook struct {
	Version   int64               // of the newest change of a recipe; 0 where there is none
	InForce   map[string]Recipe   // by layout; without the counts
	Withdrawn map[string][]Recipe // by layout; without the counts
}

// RecipeBook gives the recipes. While none changes a call costs one small
// query, so it may be asked for every file.
func (s *Store) RecipeBook(ctx context.Context) (b *RecipeBook, err error) {
	err = s.read(ctx, "read the recipes", func(t *sql.Tx) error {
		var version int64
		err := t.QueryRowContext(ctx, "SELECT coalesce(max(changed), 0) FROM recipes").Scan(&version)
		if err == nil {
			b, err = s.recipes.Get(version, func() (*RecipeBook, error) { return readBook(ctx, t, version) })
		}
		return err
	})
	return b, err
}

func readBook(ctx context.Context, t *sql.Tx, version int64) (*RecipeBook, error) {
	b := &RecipeBook{Version: version, InForce: map[string]Recipe{}, Withdrawn: map[string][]Recipe{}}
	rows, err := t.QueryContext(ctx, "SELECT "+recipeColumns+", 0, 0 FROM recipes WHERE state <> 'replaced' ORDER BY id")
	return b, each(rows, err, func(rows *sql.Rows) error {
		r, err := scanRecipe(rows)
		if r.State == InForce {
			b.InForce[r.Layout] = r
		} else {
			b.Withdrawn[r.Layout] = append(b.Withdrawn[r.Layout], r)
		}
		return err
	})
}

const (
	recipeColumns = "id, layout, state, body, answers, sensor_kind, made_at, file_id, coalesce(withdrawn_at, 0), reason"
	recipeUses    = `, (SELECT count(*) FROM files WHERE recipe_id = recipes.id),
		(SELECT count(DISTINCT wear_id) FROM file_wears JOIN files ON files.id = file_id WHERE recipe_id = recipes.id)`
)

// scanRecipe reads one row of recipeColumns and the two counts.
func scanRecipe(row interface{ Scan(...any) error }) (Recipe, error) {
	var r Recipe
	var made, withdrawn int64
	var body string
	err := row.Scan(&r.ID, &r.Layout, &r.State, &body, into(&r.Answers), &r.SensorKind, &made, &r.FileID, &withdrawn, &r.Reason, &r.Files, &r.Wears)
	r.Body, r.MadeAt = json.RawMessage(body), fromUnix(made)
	if withdrawn != 0 {
		r.WithdrawnAt = fromUnix(withdrawn)
	}
	return r, err
}

// Recipes gives every recipe: those with answers of people first, then the
// newest first.
func (s *Store) Recipes(ctx context.Context) ([]Recipe, error) {
	var list []Recipe
	rows, err := s.reader.QueryContext(ctx, "SELECT "+recipeColumns+recipeUses+" FROM recipes ORDER BY json_array_length(answers) = 0, id DESC")
	err = each(rows, err, func(rows *sql.Rows) error {
		r, err := scanRecipe(rows)
		list = append(list, r)
		return err
	})
	return list, fail("list the recipes", err)
}

// Recipe gives one recipe.
func (s *Store) Recipe(ctx context.Context, id int64) (Recipe, error) {
	r, err := scanRecipe(s.reader.QueryRowContext(ctx, "SELECT "+recipeColumns+recipeUses+" FROM recipes WHERE id = ?", id))
	return r, fail("read a recipe", err)
}

// RecipeWear is a wear that was filed with a recipe.
type RecipeWear struct {
	WearSummary
	Patient Patient
}

// RecipeWears gives the wears that hold readings of a file read by the recipe,
// newest first.
func (s *Store) RecipeWears(ctx context.Context, id int64) ([]RecipeWear, error) {
	var list []RecipeWear
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+", "+summaryColumns+` JOIN patients ON patients.id = patient_id
		WHERE wears.id IN (SELECT wear_id FROM file_wears JOIN files ON files.id = file_id WHERE recipe_id = ?)
		ORDER BY last_at DESC, wears.id DESC`, id)
	err = each(rows, err, func(rows *sql.Rows) error {
		var w RecipeWear
		err := w.scan(rows, w.Patient.targets()...)
		list = append(list, w)
		return err
	})
	return list, fail("list the wears of a recipe", err)
}

// follow links a filed file to the recipe that it was read by, or makes one of
// what it taught. A recipe that changed since the file was read gives
// [ErrStale].
func (t *tx) follow(ctx context.Context, f *Filing, fileID int64) error {
	id := f.RecipeID
	if id != 0 || f.Learned != nil {
		var changed int64
		if err := t.QueryRowContext(ctx, "SELECT coalesce(max(changed), 0) FROM recipes WHERE layout = ?", f.Layout).Scan(&changed); err != nil {
			return err
		}
		if changed > f.Recipes {
			return ErrStale
		}
	}
	if f.Learned != nil {
		var err error
		if id, err = t.learn(ctx, f.Layout, f.Learned, fileID); err != nil {
			return err
		}
	}
	_, err := t.ExecContext(ctx, "UPDATE files SET recipe_id = nullif(?, 0) WHERE id = ?", id, fileID)
	return err
}

// learn gives the recipe in force that says the same, or makes one. One in
// force that says otherwise gives way only to answers of people: then the held
// files of the layout are read again, and without such answers the file has no
// recipe (0).
func (t *tx) learn(ctx context.Context, layout string, l *Learned, fileID int64) (id int64, err error) {
	if layout == "" || !json.Valid(l.Body) {
		return 0, invalid("A recipe needs a layout and a body in JSON.")
	}
	var body string
	err = t.QueryRowContext(ctx, "SELECT id, body FROM recipes WHERE layout = ? AND state = 'in_force'", layout).Scan(&id, &body)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return 0, err
	case bytes.Equal([]byte(body), l.Body):
		return id, nil
	case len(l.Answers) == 0:
		return 0, nil
	default:
		if _, err := t.ExecContext(ctx, "UPDATE recipes SET state = 'replaced', changed = ? WHERE id = ?", t.version, id); err != nil {
			return 0, err
		}
	}
	answers, err := text(l.Answers)
	if err != nil {
		return 0, err
	}
	// The kind belongs to the sensor, however its file is read.
	err = t.QueryRowContext(ctx, `INSERT INTO recipes (layout, state, body, answers, sensor_kind, made_at, file_id, changed)
		VALUES (?1, 'in_force', ?2, ?3, coalesce((SELECT sensor_kind FROM recipes WHERE layout = ?1 ORDER BY id DESC LIMIT 1), ''), ?4, ?5, ?6)
		RETURNING id`, layout, string(l.Body), answers, t.now, fileID, t.version).Scan(&id)
	if err != nil || len(l.Answers) == 0 {
		return id, err
	}
	_, err = t.ExecContext(ctx, "UPDATE files SET answered = ? WHERE state = 'held' AND layout = ? AND id <> ?", t.version, layout, fileID)
	return id, err
}

// Withdraw says that a recipe was wrong, and why. It is never used again. What
// was filed with it stays where it is and counts as in doubt until it is read
// again; see [Store.ReadAgain]. The answers that made it are forgotten, so that
// they are asked for anew.
func (s *Store) Withdraw(ctx context.Context, id int64, reason string) error {
	reason = strings.TrimSpace(reason)
	if !wear.HasWords(reason) || len(reason) > 500 {
		return invalid("Say in a few words why the recipe is withdrawn, so that others know what to look for.")
	}
	return s.actAs(ctx, staff, "withdraw a recipe", onData, func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		var state RecipeState
		var answers []wear.Decision
		if err := t.QueryRowContext(ctx, "SELECT state, answers FROM recipes WHERE id = ?", id).Scan(&state, into(&answers)); err != nil {
			return err
		}
		if state == Withdrawn {
			return &Error{Code: Conflict, Public: "This recipe has been withdrawn already. Look at its page again."}
		}
		if err := t.withdraw(ctx, id, reason); err != nil {
			return err
		}
		for _, a := range answers {
			if _, err := t.ExecContext(ctx, "DELETE FROM answers WHERE code = ? AND file_id IN (SELECT id FROM files WHERE recipe_id = ?)", a.Code, id); err != nil {
				return err
			}
		}
		return nil
	})
}

// withdraw marks a recipe, and settles the wears that it read: of those whose
// patient was told that all is well somebody must look again.
func (t *tx) withdraw(ctx context.Context, id int64, reason string) error {
	if _, err := t.ExecContext(ctx, "UPDATE recipes SET state = 'withdrawn', withdrawn_at = ?, reason = ?, changed = ? WHERE id = ?", t.now, reason, t.version, id); err != nil {
		return err
	}
	return t.settleFiles(ctx, "recipe_id", id)
}

// settleFiles settles the wears of the files with an id in a column.
func (t *tx) settleFiles(ctx context.Context, column string, id int64) error {
	rows, err := t.QueryContext(ctx, `SELECT DISTINCT wears.id FROM file_wears JOIN files ON files.id = file_id JOIN wears ON wears.id = wear_id
		WHERE `+column+` = ? AND joined_into IS NULL ORDER BY wears.id`, id)
	wears, err := collect(rows, err, scanID)
	for _, w := range wears {
		if err == nil {
			err = t.changeWear(ctx, w)
		}
		if err == nil {
			err = t.settle(ctx, w)
		}
	}
	return err
}

// againQuestion stands while a file waits to be read again; nobody is asked it.
var againQuestion = wear.Question{Code: "reading_again", Text: "The recipe that this file was read by was withdrawn. It is being read again."}

// againToDo is what people are to do about it.
const againToDo = "Nothing yet: a question follows if one is open."

// ReadAgain has every file that was filed with a withdrawn recipe read again
// from its original. Their wears stay on the round, in doubt, until that is
// done. It gives the number of files.
func (s *Store) ReadAgain(ctx context.Context, id int64) (files int, err error) {
	questions, err := text([]wear.Question{againQuestion})
	if err != nil {
		return 0, fail("read files again", err)
	}
	err = s.actAs(ctx, staff, "read files again", onData, func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		var state RecipeState
		if err := t.QueryRowContext(ctx, "SELECT state FROM recipes WHERE id = ?", id).Scan(&state); err != nil {
			return err
		}
		if state != Withdrawn {
			return &Error{Code: Conflict, Public: "Only files of a withdrawn recipe are read again. Withdraw it first."}
		}
		if _, err := t.ExecContext(ctx, `UPDATE drops SET outcome = 'held', code = ?, reason = ?, to_do = ?
			WHERE outcome = 'filed' AND file_id IN (SELECT id FROM files WHERE recipe_id = ? AND state = 'filed')`, againQuestion.Code, againQuestion.Text, againToDo, id); err != nil {
			return err
		}
		r, err := t.ExecContext(ctx, "UPDATE files SET state = 'held', questions = ?, answered = ? WHERE recipe_id = ? AND state = 'filed'", questions, t.version, id)
		if err != nil {
			return err
		}
		n, err := r.RowsAffected()
		files = int(n)
		return err
	})
	return files, err
}

var sensorKind = regexp.MustCompile(`^[A-Za-z0-9]{0,12}$`)

// SetSensorKind attaches a sensor kind to a recipe, or takes it away with "".
// The kind is the sensor's, however its files are read: it holds for every
// recipe of the layout. The wears that its files brought have it at once, and
// are judged anew with it.
func (s *Store) SetSensorKind(ctx context.Context, id int64, kind string) error {
	if !sensorKind.MatchString(kind) {
		return invalid("A sensor kind is a code of up to 12 letters and digits, such as A or B2. It is not a name.")
	}
	made, err := s.foreseeKind(ctx, id, kind)
	if err != nil {
		return fail("set a sensor kind", err)
	}
	return s.actAs(ctx, staff, "set a sensor kind", onData, func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		var layout string
		if err := t.QueryRowContext(ctx, "SELECT layout FROM recipes WHERE id = ?", id).Scan(&layout); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE recipes SET sensor_kind = ?, changed = ? WHERE layout = ?", kind, t.version, layout); err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, `UPDATE wears SET sensor_kind = ?, changed = ? WHERE joined_into IS NULL AND sensor_kind <> ?1
			AND id IN (SELECT wear_id FROM file_wears JOIN files ON files.id = file_id WHERE layout = ?) RETURNING id`, kind, t.version, layout)
		wears, err := collect(rows, err, scanID)
		for _, wearID := range wears {
			if err == nil {
				err = t.rejudge(ctx, wearID, made, nil)
			}
		}
		return err
	})
}

// foreseeKind makes the judgements of the wears of a recipe's layout before the
// transaction that gives them another sensor kind.
func (s *Store) foreseeKind(ctx context.Context, recipeID int64, kind string) (ready, error) {
	by, made := s.judging.Load(), ready{}
	var ids []int64
	rows, err := s.reader.QueryContext(ctx, `SELECT id FROM wears WHERE joined_into IS NULL AND sensor_kind <> ?
		AND id IN (SELECT wear_id FROM file_wears JOIN files ON files.id = file_id WHERE layout = (SELECT layout FROM recipes WHERE id = ?))`, kind, recipeID)
	if ids, err = collect(rows, err, scanID); err != nil {
		return nil, err
	}
	for _, id := range ids {
		var in WearInputs
		var trace int64
		err := s.read(ctx, "read what a report is made from", func(t *sql.Tx) (err error) {
			if in, trace, err = inputs(ctx, t, id); err != nil {
				return err
			}
			return in.load(ctx, t)
		})
		if err != nil {
			return nil, err
		}
		in.SensorKind = kind
		evidence, err := by.evidence(&in, trace)
		if err != nil {
			return nil, err
		}
		if made[evidence], err = by.make(&in, evidence); err != nil {
			return nil, err
		}
	}
	return made, nil
}
