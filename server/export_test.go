package server

import (
	"github.com/gin-gonic/gin"

	"wearround/server/door"
)

// What the tests from outside ask about.

func (s *Server) Routes() []door.Route { return s.routes() }

func (s *Server) Engine() *gin.Engine { return s.http.Handler.(*gin.Engine) }
