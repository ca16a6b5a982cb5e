package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Once gives a context in which a change is made once: the key is of the post
// that asks for it, and bound stands for all that it asks. A repeat of the post
// gives [ErrRepeat] and changes nothing; the key with something else gives
// [ErrOtherPost].
func Once(ctx context.Context, key, bound string) context.Context {
	return context.WithValue(ctx, onceKey{}, post{key, bound})
}

type post struct{ key, bound string }

type onceKey struct{}

// maxKey is the longest key of a post, in bytes.
const maxKey = 200

// once notes the post that a change is made by, in the transaction of the
// change. One request may make several changes.
func (t *tx) once(ctx context.Context) error {
	p, _ := ctx.Value(onceKey{}).(post)
	key := p.key
	if key == "" {
		return nil
	}
	if len(key) > maxKey {
		return invalid("The key of a request can have %d letters at the most.", maxKey)
	}
	var request, bound string
	err := t.QueryRowContext(ctx, `INSERT INTO posts (key, user_id, request, action, at, bound) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
		ON CONFLICT (user_id, key) DO UPDATE SET key = key RETURNING request, bound`, key, t.actor.UserID, t.actor.Request, t.doing, t.now, p.bound).Scan(&request, &bound)
	switch {
	case err != nil || request == t.actor.Request:
		return err
	case bound != "" && bound != p.bound:
		return ErrOtherPost
	}
	return ErrRepeat
}

// Posted reports whether a post of a user was done, and what was answered, if
// that was kept. It gives [ErrOtherPost] where its key was of another.
func (s *Store) Posted(ctx context.Context, userID int64, key, bound string) (answer []byte, done bool, err error) {
	var was string
	err = s.reader.QueryRowContext(ctx, "SELECT answer, bound FROM posts WHERE user_id = ? AND key = ?", userID, key).Scan(&answer, &was)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, false, nil
	case err == nil && was != "" && was != bound:
		return nil, false, ErrOtherPost
	}
	return answer, err == nil, fail("look for a post", err)
}

// KeepAnswer keeps what was answered to a post that changed something.
func (s *Store) KeepAnswer(ctx context.Context, userID int64, key string, answer []byte) error {
	return s.write(ctx, "keep an answer", func(t *tx) error {
		_, err := t.ExecContext(ctx, "UPDATE posts SET answer = ? WHERE user_id = ? AND key = ?", answer, userID, key)
		return err
	})
}

// draftLife is how long what was typed and not sent is kept, and the key of a
// post: longer than anybody leaves a form open.
const draftLife = 3 * 24 * time.Hour

// maxDraft bounds what one page can keep, in bytes.
const maxDraft = 64 << 10

// SaveDraft keeps what somebody typed into a page, in JSON, until it is sent;
// nothing takes it away.
func (s *Store) SaveDraft(ctx context.Context, userID int64, page, fields string) error {
	if len(page) > 400 || page == "" || len(fields) > maxDraft {
		return invalid("This is too long to be kept.")
	}
	return s.write(ctx, "keep what was typed", func(t *tx) error {
		for _, table := range []string{"drafts", "posts"} {
			if _, err := t.ExecContext(ctx, "DELETE FROM "+table+" WHERE at < ?", t.now-int64(draftLife/time.Second)); err != nil {
				return err
			}
		}
		if fields == "" {
			_, err := t.ExecContext(ctx, "DELETE FROM drafts WHERE user_id = ? AND page = ?", userID, page)
			return err
		}
		_, err := t.ExecContext(ctx, `INSERT INTO drafts (user_id, page, fields, at) VALUES (?, ?, ?, ?)
			ON CONFLICT (user_id, page) DO UPDATE SET fields = excluded.fields, at = excluded.at`, userID, page, fields, t.now)
		return err
	})
}

// Draft gives what a user typed into a page and has not sent, or "".
func (s *Store) Draft(ctx context.Context, userID int64, page string) (fields string, err error) {
	err = s.reader.QueryRowContext(ctx, "SELECT fields FROM drafts WHERE user_id = ? AND page = ? AND at >= ?",
		userID, page, s.now().Add(-draftLife).Unix()).Scan(&fields)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return fields, fail("read what was typed", err)
}
