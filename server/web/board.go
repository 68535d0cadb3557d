package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/cautions"
	"leground/tracker/rounds"
)

// BoardPage is the first page: what needs somebody now.
type BoardPage struct {
	Base
	View       care.BoardView
	RoundTitle string
	Slabs      []Slab
	Lines      []Slab
	Acted      []string
	Said       []VetWord // when our vet asked to be rung
	Wrote      []VetWord // what waits for an answer
	Blind      string    // sites that can be measured again, blind
	Horses     []BoardHorse
	Looked     string
	Late       bool // nobody is being reminded
	// Undelivered says which messages were given up on every way, or wait because of trouble.
	Undelivered []Undelivered
}

// Undelivered is one message that did not go out.
type Undelivered struct {
	ID    tracker.ReminderID
	Words string
}

// undelivered says so in words.
func undelivered(row care.Reminder, person string) Undelivered {
	words := "A message to " + person + " could not be delivered: "
	if row.State == rounds.Planned {
		words = "A message to " + person + " is still waiting: "
	}
	return Undelivered{row.ID, words + whatOf(row) + ". " + whyOf(row)}
}

// Slab is one caution to act on.
type Slab struct {
	Caution tracker.Caution
	Horse   string
	Ring    Ring
	Promise string // who said that they will ring, and when
}

// BoardHorse is one horse's four posts.
type BoardHorse struct {
	care.BoardHorse
	Open    int
	Unseen  []string // in words
	Doubled []DoubledNote
}

func (h *Handler) board(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Board(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := BoardPage{Base: h.base(r, "Board").inYard(view.Moment, "board").barn(), View: view}
	page.RoundTitle = tracker.Capital(view.Round.Slot) + " round"
	names, people := view.Names, view.People
	for _, horse := range view.Horses {
		page.Horses = append(page.Horses, boardHorse(horse, people, view.Zone))
	}
	slabs, lines := cautions.Slabs(view.Cautions, view.Now)
	for _, c := range slabs {
		page.Slabs = append(page.Slabs, Slab{Caution: c, Horse: names[c.Horse], Ring: page.Ring})
	}
	for _, c := range lines {
		page.Lines = append(page.Lines, Slab{Caution: c, Horse: names[c.Horse], Promise: promise(c, people, page.Base)})
	}
	for _, c := range view.Acted {
		page.Acted = append(page.Acted, names[c.Horse]+": "+strings.TrimSpace(promise(c, people, page.Base)))
	}
	page.vetWords(view)
	page.Looked = lookedLine(view.LookedAt, view.Now, view.Zone)
	page.Late = !view.LookedAt.IsZero() && view.Now.Sub(view.LookedAt) > reminderLate
	for _, r := range append(slices.Clone(view.Failed), view.Stuck...) {
		page.Undelivered = append(page.Undelivered, undelivered(r, people[r.Person]))
	}
	return h.draw(w, http.StatusOK, "board", page)
}

// VetWord is what a vet said about a horse.
type VetWord struct {
	Horse, Name, Words, Address string
	At                          time.Time
}

// vetWords puts what vets said, and what can be measured again, into words.
func (p *BoardPage) vetWords(view care.BoardView) {
	for _, said := range view.Said {
		word := VetWord{Horse: view.Names[said.Horse], Name: said.Name, Words: said.RingIf, At: said.At, Address: "/horse/" + string(said.Horse) + "/vet"}
		switch {
		case said.State == tracker.Waiting:
			p.Wrote = append(p.Wrote, word)
		case said.RingIf != "":
			p.Said = append(p.Said, word)
		}
	}
	p.Blind = blindWords(view.Blind)
}

func blindWords(due []care.BlindDue) string {
	var out []string
	for _, d := range due {
		out = append(out, d.Horse.Name+" "+siteTag(d.Site))
	}
	return tracker.List(out)
}

func boardHorse(in care.BoardHorse, people map[tracker.PersonID]string, zone *time.Location) BoardHorse {
	out := BoardHorse{BoardHorse: in}
	for _, leg := range in.Legs {
		out.Open += len(leg.Sites)
	}
	for _, u := range in.Unseen {
		if u.Days < 0 {
			out.Unseen = append(out.Unseen, u.Site.Tag()+" has not been looked at yet. We cannot say how it is doing.")
			continue
		}
		out.Unseen = append(out.Unseen, cautions.NoData(u.Site.Tag(), u.Days))
	}
	for _, d := range in.Doubled {
		out.Doubled = append(out.Doubled, doubledNote(d, people, zone))
	}
	return out
}

// promise says what was last done about a caution: "Rang 08:20, Ada."
func promise(c tracker.Caution, people map[tracker.PersonID]string, b Base) string {
	if len(c.Acts) == 0 {
		return ""
	}
	act := c.Acts[len(c.Acts)-1]
	switch act.Kind {
	case tracker.Rang:
		return fmt.Sprintf("Rang %s, %s.", tracker.ClockName(act.At, b.DrawnAt, b.Zone), people[act.By])
	case tracker.WillRingAt:
		return fmt.Sprintf("%s will ring at %s.", people[act.By], tracker.ClockName(act.Until, b.DrawnAt, b.Zone))
	}
	return fmt.Sprintf("The vet knows already, %s says.", people[act.By])
}
