package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/worker"
)

// What an operator does to a practice from the command line, beside the
// running program. Whoever may read the data folder may do it, and the audit
// log says that it came from here.

// desk is an open practice.
type desk struct {
	*store.Store
	config
	as     string // sign-in name of the lead who is acted for, or ""
	secret []byte // key of the log
}

// deskFlags are the flags that say which practice is meant.
func deskFlags(name, usage string) (*flags, *desk) {
	d := new(desk)
	fs := newFlags(name, usage)
	fs.StringVar(&d.data, "data", "wearround-data", "`folder` of the practice, as given to serve")
	fs.StringVar(&d.key, "audit-key", "", "`file` with the key of the audit log, where serve has another than its own")
	fs.StringVar(&d.anchors, "anchors", "", "`file` where the log is noted a second time, likewise")
	return fs, d
}

// actFlag says who is acted for.
func (d *desk) actFlag(fs *flags) {
	fs.StringVar(&d.as, "as", "", "sign-in `name` of the lead whom you act for (default: the first)")
}

// open opens the practice, which must be there.
func (d *desk) open(ctx context.Context) (err error) {
	d.defaults()
	path := filepath.Join(d.data, "wearround.db")
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return fmt.Errorf("there is no practice in %s: say with --data where it is", d.data)
	}
	if d.Store, err = store.Open(ctx, path, time.Now); err != nil {
		return err
	}
	if d.secret, err = useLogKey(ctx, d.Store, d.key); err != nil {
		return errors.Join(err, d.Close())
	}
	return nil
}

// actor is the lead who is acted for.
func (d *desk) actor(ctx context.Context) (store.Actor, error) {
	users, err := d.Users(ctx)
	if err != nil {
		return store.Actor{}, err
	}
	for _, u := range users {
		if u.Has(store.RoleLead) && !u.Disabled && (d.as == "" || u.Login == strings.ToLower(d.as)) {
			return store.Actor{UserID: u.ID, Request: "command line"}, nil
		}
	}
	return store.Actor{}, errors.New("nobody leads this practice yet, or not under this name: open the set-up link that serve prints first")
}

// person finds somebody by their sign-in name.
func (d *desk) person(ctx context.Context, login string) (store.User, error) {
	users, err := d.Users(ctx)
	if err != nil {
		return store.User{}, err
	}
	for _, u := range users {
		if u.Login == strings.ToLower(login) {
			return u, nil
		}
	}
	return store.User{}, fmt.Errorf("nobody signs in as %q; see wearround user list", login)
}

// deskCommand runs one of a command's actions on an open practice.
func deskCommand(ctx context.Context, args []string, stdout io.Writer, usage string, run func(ctx context.Context, action string, args []string, stdout io.Writer) error) error {
	switch {
	case len(args) == 0:
		return &usageError{"say what to do\n\n" + usage}
	case args[0] == "-h" || args[0] == "--help":
		_, err := io.WriteString(stdout, usage)
		return err
	}
	return run(ctx, args[0], args[1:], stdout)
}

// wordsOf is what a person is told of an error: the store's own sentence where
// there is one.
func wordsOf(err error) string {
	if store.CodeOf(err) != store.Internal {
		return store.Words(err)
	}
	return err.Error()
}

const userUsage = `  wearround user list
  wearround user add LOGIN --name NAME --roles nurse,clinician,lead,auditor [--url ADDRESS]
  wearround user link LOGIN [--url ADDRESS]     a one-time link to choose a password anew
  wearround user password LOGIN                 a new password, printed once: for a lead who is locked out
  wearround user disable LOGIN | enable LOGIN
Each with --data DIR and --as LEAD.
`

// userCommand looks after the people who may sign in.
func userCommand(ctx context.Context, args []string, stdout, _ io.Writer) error {
	return deskCommand(ctx, args, stdout, userUsage, runUser)
}

func runUser(ctx context.Context, action string, args []string, stdout io.Writer) (err error) {
	fs, d := deskFlags("user "+action, userUsage)
	d.actFlag(fs)
	name := fs.String("name", "", "`name` as colleagues see it")
	roles := fs.String("roles", "", "`roles`, with commas between")
	url := fs.String("url", "http://127.0.0.1:8470/", "`address` of the program, for links")
	if !slices.Contains([]string{"list", "add", "link", "password", "disable", "enable"}, action) {
		return &usageError{"that is not how user is written\n\n" + userUsage}
	}
	rest, err := fs.parse(args, stdout, wanted(action), wanted(action))
	if err != nil {
		return err
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	if action == "list" {
		return listUsers(ctx, d, stdout)
	}
	a, err := d.actor(ctx)
	if err != nil {
		return err
	}
	invite := door.NewInvitation()
	if action == "add" {
		var list []store.Role
		for r := range strings.SplitSeq(*roles, ",") {
			list = append(list, store.Role(strings.TrimSpace(r)))
		}
		u, err := d.AddUser(ctx, a, store.NewUser{Login: rest[0], Name: *name, Roles: list, Password: invite.Password, Temporary: true})
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(stdout, "%s can choose a password here, once, within four days:\n  %s\n", u.Name, invite.Address(*url, u.ID))
		return err
	}
	u, err := d.person(ctx, rest[0])
	if err != nil {
		return err
	}
	switch action {
	case "link":
		if u.ID == a.UserID {
			return fmt.Errorf("%s is who you act for: name another lead with --as, or use wearround user password", u.Login)
		}
		if err := d.SetPassword(ctx, a, u.ID, invite.Password, 0); err != nil {
			return err
		}
		_, err = fmt.Fprintf(stdout, "%s can choose a password here, once, within four days:\n  %s\n", u.Name, invite.Address(*url, u.ID))
		return err
	case "password":
		return newPassword(ctx, d, u, stdout)
	}
	return d.EditUser(ctx, a, u.ID, u.Name, u.Roles, action == "disable", "from the command line")
}

// wanted is how many arguments an action takes: whom or what, but for a list.
func wanted(action string) int {
	if action == "list" {
		return 0
	}
	return 1
}

func listUsers(ctx context.Context, d *desk, stdout io.Writer) error {
	users, err := d.Users(ctx)
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "SIGN-IN\tNAME\tROLES\tSECOND FACTOR\tSTATE")
	for _, u := range users {
		state := "may sign in"
		switch {
		case u.Disabled:
			state = "disabled"
		case u.Temporary:
			state = "has a one-time link"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%v\t%s\n", u.Login, u.Name, joined(u.Roles), u.SecondFactor, state)
	}
	return w.Flush()
}

func joined(roles []store.Role) string {
	var s []string
	for _, r := range roles {
		s = append(s, string(r))
	}
	return strings.Join(s, ", ")
}

// newPassword sets a password that nobody chose and prints it once. Its
// sessions end; the second factor stays.
func newPassword(ctx context.Context, d *desk, u store.User, stdout io.Writer) error {
	chosen := strings.ToLower(rand.Text())
	hash, err := password.New(password.Strong).Hash(ctx, chosen)
	if err != nil {
		return err
	}
	if err := d.SetPassword(ctx, store.Actor{UserID: u.ID, Request: "command line"}, u.ID, hash, 0); err != nil {
		return err
	}
	_, err = fmt.Fprintf(stdout, "The password of %s is now\n  %s\nIt is shown this once. Change it after signing in; the second factor stays as it was.\n", u.Login, chosen)
	return err
}

const tokenUsage = `  wearround token add NAME --scopes read,write [--days 90]   a token for a program, printed once
  wearround token list
  wearround token revoke ID
Each with --data DIR and --as LEAD. A token acts in the name of that lead and can do no more.
`

// tokenCommand looks after what programs use in place of a sign-in.
func tokenCommand(ctx context.Context, args []string, stdout, _ io.Writer) error {
	return deskCommand(ctx, args, stdout, tokenUsage, runToken)
}

func runToken(ctx context.Context, action string, args []string, stdout io.Writer) (err error) {
	fs, d := deskFlags("token "+action, tokenUsage)
	d.actFlag(fs)
	scopes := fs.String("scopes", store.ScopeRead, "`scopes`, with commas between: "+strings.Join(store.Scopes(), ", "))
	days := fs.Int("days", 90, "how many `days` it is good for, up to 366")
	if !slices.Contains([]string{"add", "list", "revoke"}, action) {
		return &usageError{"that is not how token is written\n\n" + tokenUsage}
	}
	rest, err := fs.parse(args, stdout, wanted(action), wanted(action))
	if err != nil {
		return err
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	switch action {
	case "list":
		return listTokens(ctx, d, stdout)
	case "revoke":
		var id int64
		if _, err := fmt.Sscan(rest[0], &id); err != nil {
			return &usageError{"a token is revoked by its number; see wearround token list"}
		}
		a, err := d.actor(ctx)
		if err != nil {
			return err
		}
		return d.RevokeToken(ctx, a, id)
	}
	a, err := d.actor(ctx)
	if err != nil {
		return err
	}
	secret, hash := door.NewToken()
	var list []string
	for s := range strings.SplitSeq(*scopes, ",") {
		list = append(list, strings.TrimSpace(s))
	}
	if _, err := d.AddToken(ctx, a, rest[0], hash, list, time.Now().AddDate(0, 0, *days)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(stdout, "%s\n", secret)
	return err
}

func listTokens(ctx context.Context, d *desk, stdout io.Writer) error {
	list, err := d.Tokens(ctx)
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NUMBER\tFOR\tIN THE NAME OF\tSCOPES\tUNTIL\tSTATE")
	for _, k := range list {
		state := "good"
		switch {
		case !k.RevokedAt.IsZero():
			state = "revoked"
		case !k.ExpiresAt.After(time.Now()):
			state = "ended"
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\n", k.ID, k.Name, k.Owner.Name, strings.Join(k.Scopes, ", "), k.ExpiresAt.Format(time.DateOnly), state)
	}
	return w.Flush()
}

// verify walks the audit log and holds the data against their seals. Exit
// status 0: all is whole; 1: it is not, or could not be read.
func verify(ctx context.Context, args []string, stdout, _ io.Writer) error {
	fs, d := deskFlags("verify", "wearround verify [--all] [--data DIR]    does the log hold together, and do the data fit their seals?\n")
	all := fs.Bool("all", false, "read every original in the archive too")
	if _, err := fs.parse(args, stdout, 0, 0); err != nil {
		return err
	}
	whole, err := checkLog(ctx, d, *all, stdout)
	if err == nil && !whole {
		err = errors.New("not everything is whole")
	}
	return err
}

func checkLog(ctx context.Context, d *desk, all bool, stdout io.Writer) (whole bool, err error) {
	if err := d.open(ctx); err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	noted, err := worker.NewAnchors(d.config.anchors).All()
	if err != nil {
		return false, err
	}
	k, err := d.VerifyLog(ctx, noted...)
	if err != nil {
		return false, err
	}
	if !k.OK() {
		_, err = fmt.Fprintf(stdout, "The audit log does not hold together: at line %d, %s.\n", k.Broken, k.Why)
		return false, err
	}
	fmt.Fprintf(stdout, "The audit log holds together: %d lines, compared with %d notes in the second place.\n", k.Rows, len(noted))
	return d.checkData(ctx, all, stdout)
}

// checkData holds what is kept against its seals: quickly, or all of it with
// the originals in the archive.
func (d *desk) checkData(ctx context.Context, all bool, stdout io.Writer) (whole bool, err error) {
	if err := d.Whole(ctx); err != nil {
		fmt.Fprintln(stdout, store.Words(err))
		return false, nil
	}
	c, err := d.VerifyData(ctx, true)
	if err != nil {
		return false, err
	}
	if !c.OK() {
		_, err := fmt.Fprintf(stdout, "The data do not fit their seals: %s.\n", c.String())
		return false, err
	}
	fmt.Fprintf(stdout, "The data fit their seals: %d rows of %d things.\n", c.Rows, c.Things)
	if !all {
		return true, nil
	}
	archive, err := worker.OpenArchive(filepath.Join(d.data, "archive"))
	if err != nil {
		return false, err
	}
	good, bad := 0, 0
	err = d.EachFile(ctx, func(hash string, _ int64) error {
		if _, err := archive.Get(hash); err != nil {
			bad++
			fmt.Fprintf(stdout, "The original %s is missing from the archive or damaged there.\n", hash[:12])
		} else {
			good++
		}
		return ctx.Err()
	})
	fmt.Fprintf(stdout, "Of the originals in the archive %d are whole and %d are not.\n", good, bad)
	return bad == 0, err
}
