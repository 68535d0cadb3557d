package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// RemindRulesPage is the yard's rules about messages.
type RemindRulesPage struct {
	Base
	sent
	View          care.ReminderRulesView
	First         string // minutes, as in the form
	Nudge, Second string // minutes; empty: left out
	Slots         []TurnField
	Takes         string // how long mail to everybody takes
	Trouble       []string
}

// TurnField is who is asked about one round of the day.
type TurnField struct {
	Slot     tracker.Slot
	Places   []PlaceField
	Warnings []string
}

func (h *Handler) remindRules(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.ReminderRules(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := RemindRulesPage{Base: h.base(r, "Who is reminded when").inYard(view.Moment, "reminders").wrong(state.why), sent: state, View: view}
	page.First, page.Nudge, page.Second = minuteText(view.Rules.Ladder.First), minuteText(view.Rules.Ladder.Nudge), minuteText(view.Rules.Ladder.Second)
	for _, slot := range view.Yard.Slots {
		page.Slots = append(page.Slots, turnField(slot, view, state))
	}
	if c := h.settings.Courier; c != nil {
		page.Trouble = c.Trouble()
		if takes := c.RoundTakes(len(view.People)); takes > 0 {
			page.Takes = fmt.Sprintf("Mail to %d people at once takes about %s at the pace that mail servers allow.", len(view.People), takes.Round(time.Second))
		} else {
			page.Takes = fmt.Sprintf("Mail to %d people at once goes out within a few seconds.", len(view.People))
		}
	}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "Kept. The old rules stay in the yard's book."
	}
	return h.draw(w, page.status(), "remindrules", page)
}

func minuteText(d time.Duration) string {
	if d == rounds.Off {
		return ""
	}
	return strconv.Itoa(int(d / time.Minute))
}

// mostTurns is how many places the form has for one round. Others follow in the order in which they joined.
const mostTurns = 3

func turnField(slot tracker.Slot, view care.ReminderRulesView, state sent) TurnField {
	field := TurnField{Slot: slot, Warnings: view.Warnings[slot.Name]}
	set := view.Rules.Turns[slot.Name]
	for i := range min(mostTurns, len(view.People)) {
		chosen := ""
		if i < len(set) {
			chosen = string(set[i])
		}
		chosen = state.Value(turnName(slot, i), chosen)
		place := PlaceField{Number: i + 1, Label: []string{"Asked first", "Asked second", "When one of them is away"}[i], Choices: []Step{{"", "as they joined", chosen == ""}}}
		for _, c := range view.People {
			place.Choices = append(place.Choices, Step{string(c.ID), c.Name, chosen == string(c.ID)})
		}
		field.Places = append(field.Places, place)
	}
	return field
}

func turnName(slot tracker.Slot, i int) string { return fmt.Sprintf("turn%d_%s", i+1, slot.Name) }

func (h *Handler) changeRemindRules(w http.ResponseWriter, r *http.Request, f *form) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	in := care.ReminderRules{Budget: f.whole("budget", "Messages a day"), Turns: map[string][]tracker.PersonID{}}
	in.Ladder = rounds.Ladder{First: f.after("first", 0), Nudge: f.after("nudge", rounds.Off), Second: f.after("second", rounds.Off)}
	for _, slot := range yard.Yard.Slots {
		for i := range mostTurns {
			if id := tracker.PersonID(f.text(turnName(slot, i))); id != "" && !slices.Contains(in.Turns[slot.Name], id) {
				in.Turns[slot.Name] = append(in.Turns[slot.Name], id)
			}
		}
	}
	return h.keptRules(w, r, f, func() error { return h.care.ChangeReminderRules(r.Context(), actorOf(r), in) })
}

// after reads minutes after a round is due; an empty field is otherwise.
func (f *form) after(name string, otherwise time.Duration) time.Duration {
	if f.text(name) == "" {
		return otherwise
	}
	return time.Duration(f.whole(name, "Minutes after the round is due")) * time.Minute
}

func (h *Handler) keptRules(w http.ResponseWriter, r *http.Request, f *form, do func() error) error {
	return h.done(w, r, f, do, "/reminders/rules?saved=1", h.remindRules)
}

func (h *Handler) closeDays(w http.ResponseWriter, r *http.Request, f *form) error {
	closing := care.Closing{Span: readSpan(f), Why: f.text("why")}
	return h.keptRules(w, r, f, func() error { return h.care.CloseDays(r.Context(), actorOf(r), closing, knownFor(f)) })
}

func (h *Handler) openDays(w http.ResponseWriter, r *http.Request, f *form) error {
	span := readSpan(f)
	return h.keptRules(w, r, f, func() error { return h.care.OpenDays(r.Context(), actorOf(r), span) })
}
