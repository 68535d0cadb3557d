package webtest

import (
	"net/url"
	"strings"

	"leground/tracker"
)

// Yard is a yard with people, horses and sites, made through the site's own pages.
type Yard struct {
	Owner, Carer           *Person // Ada and Bea
	Bramble, OldTom, Junip tracker.HorseID
	Wound                  tracker.SiteID // Bramble RF 1, upper cannon, back: by no joint, so nobody is rung
	Patch                  tracker.SiteID // Bramble RH 1, pastern, all round
	Small                  tracker.SiteID // Old Tom LF 1, a wound as high up
}

// Marl makes the invented yard that most tests use.
func (s *Site) Marl() *Yard {
	s.TB.Helper()
	y := &Yard{Owner: s.OpenYard("Marlpit Yard", "Ada")}
	y.Carer = y.Owner.Invites("Bea", "carer")
	y.Bramble, y.OldTom, y.Junip = y.Owner.TakesIn("Bramble"), y.Owner.TakesIn("Old Tom"), y.Owner.TakesIn("Juniper")
	y.Wound = y.Owner.Finds(y.Bramble, "RF", "wound", "upper-cannon", "back")
	y.Patch = y.Owner.Finds(y.Bramble, "RH", "patch", "pastern", "all-round")
	y.Small = y.Owner.Finds(y.OldTom, "LF", "wound", "upper-cannon", "back")
	return y
}

// OpenYard opens a yard by its set-up link and gives its owner.
func (s *Site) OpenYard(yard, owner string) *Person {
	s.TB.Helper()
	p := s.Nobody()
	p.Name, p.Email = owner, mailOf(owner, yard)
	path := s.SetUpLink()
	form := p.Get(path).Is(200).Form(path).With("yard", yard).With("zone", "Europe/London").With("ring_name", "Marl vets").
		With("ring_number", "01234 000000").With("name", owner).With("email", p.Email).With("password", Password)
	p.Send(form).Redirects("/")
	return p
}

func mailOf(name, yard string) string {
	return strings.ToLower(strings.ReplaceAll(name+"@"+yard, " ", "-")) + ".example"
}

// Invites makes an invitation and gives the person who came by it.
func (p *Person) Invites(name, role string) *Person {
	p.TB.Helper()
	page := p.Send(p.Get("/people").Form("/people/invite").With("role", role).With("note", name)).Is(200)
	guest := p.Site.Nobody()
	_, domain, _ := strings.Cut(p.Email, "@")
	guest.Name, guest.Email = name, strings.ToLower(name)+"@"+domain
	path := page.Link()
	form := guest.Get(path).Is(200).Form(path).With("name", name).With("email", guest.Email).With("password", Password)
	guest.Send(form).Redirects("/")
	return guest
}

// TakesIn takes a horse into the yard.
func (p *Person) TakesIn(name string) tracker.HorseID {
	p.TB.Helper()
	form := p.Get("/horses").Form("/horses").With("name", name)
	p.Send(form).Redirects("/horse/")
	return tracker.HorseID(form.Values.Get("id"))
}

// Finds adds a site by the form of the round, and gives its id.
func (p *Person) Finds(horse tracker.HorseID, leg, kind, region, aspect string) tracker.SiteID {
	p.TB.Helper()
	before := p.sitesOf(horse, leg)
	form := p.Get("/round").Form("/sites", "horse="+string(horse), "leg="+leg)
	p.Send(form.With("kind", kind).With("region", region).With("aspect", aspect)).Redirects("/round")
	after := p.sitesOf(horse, leg)
	if len(after) != len(before)+1 {
		p.TB.Fatalf("a site was added to %s but the round shows %d cards, before %d", leg, len(after), len(before))
	}
	return after[len(after)-1]
}

// sitesOf lists the sites of a leg that have a card to fill in, by number.
func (p *Person) sitesOf(horse tracker.HorseID, leg string) []tracker.SiteID {
	var out []tracker.SiteID
	prefix := "c-" + string(horse)[24:] + "-" + leg + "-"
	for _, card := range p.Get("/round").Root().Classed("card") {
		if !strings.HasPrefix(card.Attr["id"], prefix) {
			continue
		}
		for _, f := range card.forms("/round") {
			if f.Action == "/round/site" {
				out = append(out, tracker.SiteID(f.Values.Get("site")))
			}
		}
	}
	return out
}

// Card gives the form of a site card in the round, as it is before anything is touched.
func (p *Person) Card(site tracker.SiteID) Form {
	p.TB.Helper()
	return p.Get("/round").Form("/round/site", "site="+string(site))
}

// Line gives the form of a leg line.
func (p *Person) Line(horse tracker.HorseID, leg string) Form {
	p.TB.Helper()
	return p.Get("/round").Form("/round/leg", "horse="+string(horse), "leg="+leg)
}

// Looks records a wound's size with dry, painless signs, and gives the record's id.
func (p *Person) Looks(site tracker.SiteID, length, width string, more ...string) string {
	p.TB.Helper()
	form := p.Card(site).With("length", length).With("width", width).With("exudate", "0").With("pain", "0")
	for _, field := range more {
		name, value, _ := strings.Cut(field, "=")
		form = form.With(name, value)
	}
	p.Send(form).Redirects("/round?saved=")
	return form.Values.Get("record")
}

// Values makes url.Values of "name=value" fields.
func Values(fields ...string) url.Values {
	out := url.Values{}
	for _, field := range fields {
		name, value, _ := strings.Cut(field, "=")
		out.Add(name, value)
	}
	return out
}
