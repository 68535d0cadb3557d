// Package web is the pages: ordinary forms, drawn on the server, that work with scripts off.
//
// Every route stands in routes.go with who may ask for it. A handler reads a form into a typed entry,
// calls one use case of package care and answers with a page struct or a redirect; it returns its
// errors, and one place (errors.go) turns them into a page and a status. Pages are structs, drawn into a
// buffer by the template of the same name, so that a fault in a template never sends half a page.
package web
