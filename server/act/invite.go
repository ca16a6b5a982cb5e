package act

import (
	"net/url"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
)

// StoreRoles are roles as pages give them.
func StoreRoles(names []string) []store.Role {
	var out []store.Role
	for _, n := range names {
		out = append(out, store.Role(n))
	}
	return out
}

// Invite adds a user who has no password yet, only a one-time link.
func (s *Acts) Invite(c *gin.Context, n store.NewUser) (store.User, *web.OneTimeLink, error) {
	i := door.NewInvitation()
	n.Password, n.Temporary = i.Password, true
	u, err := s.Store.AddUser(c.Request.Context(), door.Actor(c), n)
	if err != nil {
		return u, nil, err
	}
	return u, s.link(c, u, i), nil
}

func (s *Acts) link(c *gin.Context, u store.User, i door.Invitation) *web.OneTimeLink {
	base := url.URL{Scheme: "http", Host: c.Request.Host}
	if s.Secure() {
		base.Scheme = "https"
	}
	return &web.OneTimeLink{For: u.Name, Until: s.Now().Add(door.LinkLife), Address: i.Address(base.String(), u.ID)}
}

// NewLink makes it. One's own password is changed on the page of one's account.
func (s *Acts) NewLink(c *gin.Context, id int64) (store.User, *web.OneTimeLink, error) {
	if id == door.Me(c) {
		return store.User{}, nil, door.Invalid("Change your own password on the page of your account.")
	}
	ctx := c.Request.Context()
	u, err := s.Store.User(ctx, id)
	if err != nil {
		return u, nil, err
	}
	i := door.NewInvitation()
	if err := s.Store.SetPassword(ctx, door.Actor(c), id, i.Password, 0); err != nil {
		return u, nil, err
	}
	return u, s.link(c, u, i), nil
}
