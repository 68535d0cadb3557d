package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// RemindersPage is the life of the yard's messages.
type RemindersPage struct {
	Base
	sent
	View   care.RemindersView
	Rows   []ReminderLine
	States []string // to filter by
	Looked string
	Round  string // "the morning round of Thu 14 May"
	Key    string // names that round
}

// Fewer tells whether so few messages were acted on that fewer may serve better. A handful says nothing.
func (p RemindersPage) Fewer() bool {
	return p.View.Week.Sent >= 10 && p.View.Week.ActedOn*10 < p.View.Week.Sent*3
}

// ReminderLine is one message in the list.
type ReminderLine struct {
	ID     tracker.ReminderID
	When   time.Time
	Person string
	What   string
	Way    string // "mail", "phone"
	State  rounds.Life
	Why    string
}

// reminderStates are those that a list can be narrowed to.
var reminderStates = []string{"planned", "sending", "sent", "given up", "withdrawn", "folded"}

func (h *Handler) reminders(w http.ResponseWriter, r *http.Request, state sent) error {
	if state.Values == nil { // what narrows the list stands in the address
		state.Values = r.URL.Query()
	}
	q := care.ReminderQuery{Person: tracker.PersonID(state.Value("person", "")), Horse: tracker.HorseID(state.Value("horse", "")), State: state.Value("state", "")}
	view, err := h.care.ReminderList(r.Context(), actorOf(r), q)
	if err != nil {
		return err
	}
	page := RemindersPage{Base: h.base(r, "Reminders").inYard(view.Moment, "reminders").wrong(state.why), sent: state, View: view, States: reminderStates}
	names := map[tracker.PersonID]string{}
	for _, m := range view.People {
		names[m.ID] = m.Name
	}
	for _, row := range view.Rows {
		page.Rows = append(page.Rows, reminderLine(row, names[row.Person]))
	}
	page.Looked = lookedLine(view.LookedAt, view.Now, view.Zone)
	page.Round = fmt.Sprintf("%s round of %s", view.Round.Slot, tracker.DayName(view.Round.Day))
	page.Key = rounds.KeyOf(view.Round).String()
	switch r.URL.Query().Get("done") {
	case "on-it":
		page.Notice = "Noted. Nobody is asked about this round for an hour. If nothing is received, it goes on."
	case "later":
		page.Notice = "Noted. You are told later, if it is still needed."
	case "skipped":
		page.Notice = "The round is skipped. The reason is kept."
	}
	return h.draw(w, page.status(), "reminders", page)
}

// reminderLine puts a row into words.
func reminderLine(row care.Reminder, person string) ReminderLine {
	return ReminderLine{ID: row.ID, When: row.PlannedAt, Person: person, What: whatOf(row), Way: wayName(row.Channel), State: row.State, Why: whyOf(row)}
}

// whatOf says what a message is about.
func whatOf(row care.Reminder) string {
	var says tracker.News
	if err := json.Unmarshal(row.Facts, &says); err != nil {
		return string(row.Kind)
	}
	switch row.Kind {
	case rounds.AboutRound:
		return fmt.Sprintf("%s: %s", tracker.Capital(says.Round), row.Rung)
	case rounds.AboutRingNow, rounds.AboutToday:
		if len(says.Cautions) > 0 {
			return says.Cautions[0].Level + ": " + says.Cautions[0].Where
		}
	case rounds.AboutSummary:
		return "What could not be said in time"
	case care.KindTest:
		return "A test message"
	}
	if says.Kind == tracker.NewsWeekly {
		return "The week, " + says.Week.Days
	}
	return says.Title
}

// whyOf says why a message is in its state.
func whyOf(row care.Reminder) string {
	if row.State == rounds.Planned && row.Reason == "" {
		return "It goes out at the next turn of the worker."
	}
	return row.Reason.Sentence()
}

func wayName(way string) string {
	switch care.ChannelOf(way) {
	case care.ChannelEmail:
		return "mail"
	case care.ChannelPush:
		return "phone"
	case care.ChannelWebhook:
		return "web address"
	}
	return "no way"
}

// lookedLine says when reminders were last looked at; after three minutes it says that they are late.
func lookedLine(at, now time.Time, zone *time.Location) string {
	switch {
	case at.IsZero():
		return "Reminders have not been looked at yet."
	case now.Sub(at) > reminderLate:
		return "Reminders were last looked at " + tracker.TimeName(at, zone) + ". They are late: nobody is being reminded now."
	}
	return "Reminders last looked at " + at.In(zone).Format("15:04:05") + "."
}

// ReminderPage is one message with everything that happened to it.
type ReminderPage struct {
	Base
	View     care.ReminderView
	Line     ReminderLine
	Siblings []ReminderLine
}

func (h *Handler) reminder(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Reminder(r.Context(), actorOf(r), tracker.ReminderID(chi.URLParam(r, "reminder")))
	if err != nil {
		return err
	}
	page := ReminderPage{Base: h.base(r, "A message").inYard(view.Moment, "reminders"), View: view, Line: reminderLine(view.Row, view.Person)}
	for _, row := range view.Siblings {
		page.Siblings = append(page.Siblings, reminderLine(row, view.Person))
	}
	return h.draw(w, http.StatusOK, "reminder", page)
}

func (h *Handler) sendAgain(w http.ResponseWriter, r *http.Request) error {
	id := chi.URLParam(r, "reminder")
	return then(w, r, h.care.SendAgain(r.Context(), actorOf(r), tracker.ReminderID(id)), "/reminder/"+id)
}

// pressRound is "on it" or "later" by somebody who is signed in.
func (h *Handler) pressRound(w http.ResponseWriter, r *http.Request, f *form) error {
	kind, later := readPress(f)
	return then(w, r, h.care.Press(r.Context(), actorOf(r), f.text("round"), kind, later), "/reminders?done="+strings.ReplaceAll(string(kind), " ", "-"))
}

// readPress reads what was pressed.
func readPress(f *form) (care.PressKind, time.Duration) {
	switch f.text("press") {
	case "30":
		return care.Later, 30 * time.Minute
	case "120":
		return care.Later, 2 * time.Hour
	case "next":
		return care.Later, rounds.UntilNextSlot
	case "on-it":
		return care.OnIt, 0
	}
	return care.Later, 0 // which is refused
}

func (h *Handler) skipRound(w http.ResponseWriter, r *http.Request, f *form) error {
	keep := func() error {
		return h.care.SkipRound(r.Context(), actorOf(r), f.text("round"), f.text("why"))
	}
	return h.done(w, r, f, keep, "/reminders?done=skipped", h.reminders)
}
