package main

import (
	_ "embed"
	"net/http"

	"github.com/labstack/echo/v4"
)

// openAPIDocument describes every route. The schemas are generated from the Go
// types and their comments by TestOpenAPIFresh; the rest is in openapi.base.json.
//
//go:embed openapi.json
var openAPIDocument []byte

func (s *server) openAPI(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/json; charset=utf-8", openAPIDocument)
}
