package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
)

// The files of static that are no part of a page: the two workers, of which one is sent as /sw.js.
const (
	workerFile = "worker.js"
	removeFile = "remove.js"
)

// shellList is what the worker is told about the build it belongs to.
type shellList struct {
	Build  string   `json:"build"`
	Outbox string   `json:"outbox"` // the script that it shares with the pages
	Push   string   `json:"push"`   // what is shown when the phone is woken
	Files  []string `json:"files"`  // everything that is fetched whole or not at all
}

// worker sends the service worker. It has one address for ever, so it is never kept by who fetched it.
// Where the copy on phones is switched off, the worker that removes itself is sent in its place.
func (h *Handler) worker(w http.ResponseWriter, _ *http.Request) error {
	name := workerFile
	if h.settings.NoCopy {
		name = removeFile
	}
	list := shellList{Build: h.assets.build, Outbox: h.assets.byName["outbox.js"], Push: h.assets.byName["push.js"], Files: []string{"/no-signal", "/manifest.webmanifest"}}
	for name, path := range h.assets.byName {
		if name != workerFile && name != removeFile {
			list.Files = append(list.Files, path)
		}
	}
	slices.Sort(list.Files)
	about, err := json.Marshal(list)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-cache")
	return send(w, "text/javascript; charset=utf-8", fmt.Appendf(nil, "const SHELL = %s;\n%s", about, h.assets.byPath[h.assets.byName[name]].plain))
}

// webManifest is what a phone needs to put the site on its home screen.
type webManifest struct {
	ID         string    `json:"id"`
	Name       string    `json:"name"`
	ShortName  string    `json:"short_name"`
	StartURL   string    `json:"start_url"`
	Scope      string    `json:"scope"`
	Display    string    `json:"display"`
	Background string    `json:"background_color"`
	Theme      string    `json:"theme_color"`
	Icons      []webIcon `json:"icons"`
}

type webIcon struct {
	Source  string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose,omitempty"`
}

// manifest sends the web app manifest.
func (h *Handler) manifest(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "application/manifest+json")
	w.Header().Set("Cache-Control", "no-cache")
	json.NewEncoder(w).Encode(webManifest{ // the reader has gone if this fails
		ID: "/", Name: "Leground", ShortName: "Leground", StartURL: "/", Scope: "/", Display: "standalone",
		Background: "#FBF8F1", Theme: "#FBF8F1",
		Icons: []webIcon{
			{Source: h.assets.byName["icon-192.png"], Sizes: "192x192", Type: "image/png"},
			{Source: h.assets.byName["icon-512.png"], Sizes: "512x512", Type: "image/png", Purpose: "any"},
			{Source: h.assets.byName["icon.svg"], Sizes: "any", Type: "image/svg+xml"},
		},
	})
	return nil
}

// NoSignalPage stands in for a page that is not on the phone. It is the same for everybody.
type NoSignalPage struct{ Base }

func (h *Handler) noSignal(w http.ResponseWriter, r *http.Request) error {
	return h.draw(w, http.StatusOK, "no-signal", NoSignalPage{h.base(r, "No word from the yard").barn()})
}

// recordedBy refuses a post that a phone kept for somebody else than who is signed in now: a record is
// never sent under another name.
func recordedBy(r *http.Request) error {
	as := r.Header.Get("Leground-As")
	actor := actorOf(r)
	if as == "" || strings.EqualFold(as, string(actor.Yard)+"/"+string(actor.Person.ID)) {
		return nil
	}
	return errSignIn
}
