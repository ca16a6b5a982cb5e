package act

import (
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
)

// mostNameTries bounds the search for a name that is free.
const mostNameTries = 1000

var errNoFolder = &door.Problem{
	Status: http.StatusServiceUnavailable, Sentence: "The watched folder cannot be written to, so the file was not taken.",
	ToDo: "Keep the file, and send it in again once the folder is there: Files and System say when. Or put it into the folder yourself.",
}

// TakeFile puts a file that a person or a program sent in into the watched
// folder, under a name that is safe there and takes no other's place. From
// there it goes the way of every file. It gives the name.
func (s *Acts) TakeFile(c *gin.Context, name string, data []byte) (string, error) {
	if len(data) == 0 {
		return "", door.InvalidField("file", "This file is empty. Choose the export file itself.")
	}
	name = safeName(name)
	if name == "" {
		return "", door.InvalidField("file", "This file has no name that can be kept. Give it one of letters and digits, and send it again.")
	}
	ext := filepath.Ext(name)
	for i := range mostNameTries {
		to := name
		if i > 0 {
			to = strings.TrimSuffix(name, ext) + "-" + strconv.Itoa(i+1) + ext
		}
		path := filepath.Join(s.Drop, to)
		switch err := writeNew(path, data); {
		case errors.Is(err, fs.ErrExist):
			continue
		case err != nil:
			if e, ok := errors.AsType[*fs.PathError](err); ok { // without the name
				err = e.Err
			}
			s.Log.Error("a file that was sent in cannot be put into the watched folder", "ref", c.GetString(door.Reference), "err", err)
			return "", errNoFolder
		}
		// Only what lies there counts as sent, so that it can be sent again.
		if err := s.Store.RecordSent(c.Request.Context(), door.Actor(c)); err != nil {
			return "", errors.Join(err, os.Remove(path))
		}
		s.Worker.Look()
		return to, nil
	}
	return "", door.Invalid("Too many files of this name are in the watched folder. Give the file another name.")
}

// writeNew writes a file that must not be there yet. One that cannot be written
// whole is taken away again.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}

// safeName keeps of a name what no file system takes amiss: the last part of a
// path, of letters, digits and a few signs, not hidden, not too long.
func safeName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_. ", r) {
			return r
		}
		return '-'
	}, name)
	name = strings.Trim(name, " .")
	ext := filepath.Ext(name)
	if stem := []rune(strings.TrimSuffix(name, ext)); len(stem) > mostName {
		name = string(stem[:mostName]) + ext
	}
	if len([]rune(ext)) > 10 { // no ending at all
		name = string([]rune(name)[:min(mostName, len([]rune(name)))])
	}
	return name
}

// mostName is how many characters of a name are kept: with four bytes each it
// fits what file systems allow.
const mostName = 50
