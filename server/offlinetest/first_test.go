package offlinetest

import (
	"testing"

	"leground/server/webtest"
)

func TestFirst(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Looks(yard.Wound, "42", "25")
	link := NewLink(t, site.URL)
	p := NewPhone(t, link)
	p.SignIn(yard.Owner)
	p.Open("/round")
	t.Log(p.Text("#status"), "|", p.Text("#start"))
	p.Wait("caches.keys().then((k) => k.length >= 3)")
	p.Shot("walk-360")
	p.Tap("#start")
	p.Shot("line-360")
	p.Tap(".look .main-bar")
	p.Wait("location.hash.includes('RF')")
	p.Shot("second-360")
	t.Log(p.Text("#status"), "|", p.Text("#saved"))
	link.Cut(Refuse)
	p.Open("/round")
	p.Shot("walk-offline-360")
	t.Log(p.Text("#status"))
	p.Open("/")
	p.Shot("board-offline-360")
	t.Log(p.Text("#status"))
	p.Open("/people")
	p.Shot("nosignal")
}
