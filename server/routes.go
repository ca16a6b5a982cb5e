package server

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"wearround/web"
)

// routes is the whole map of the server.
func (s *Server) routes() http.Handler {
	e := gin.New()
	e.HandleMethodNotAllowed = true
	if err := e.SetTrustedProxies(nil); err != nil {
		panic("server: " + err.Error()) // cannot happen for an empty list
	}
	e.Use(s.observe, s.recover, headers, s.ownHost, s.sameOrigin, limitBody)
	e.NoRoute(s.page(notFound))
	e.NoMethod(s.page(notFound))

	e.GET("/", s.page(s.round))
	e.GET("/wears/:id", s.page(s.wear))
	e.GET("/files", s.page(s.files))
	e.POST("/files/:id/answer", s.page(s.answer))
	e.GET("/about", s.page(s.about))
	e.GET("/live", s.live)
	e.GET("/static/*name", gin.WrapH(web.Assets()))

	e.GET("/healthz", s.health)
	e.GET("/metrics", gin.WrapH(promhttp.HandlerFor(s.Registry, promhttp.HandlerOpts{Registry: s.Registry})))
	return e
}
