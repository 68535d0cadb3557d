package server

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/notify"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// check holds everything against the model. What is younger than three days at the end is not judged.
func (s *sim) check(days int) {
	end := s.start.AddDate(0, 0, days)
	for s.mail.Answer, s.push.Answer = nil, nil; time.Now().Before(end.Add(72 * time.Hour)); time.Sleep(10 * time.Minute) {
		s.rig.turn() // everything works again
	}
	took := map[tracker.YardID][]notify.Message{}
	for _, m := range append(s.mail.Taken(), s.push.Taken()...) {
		took[yardOf(m.References)] = append(took[yardOf(m.References)], m)
	}
	for _, y := range s.yards {
		s.checkRounds(y, end)
		s.checkReminders(y, took[y.yard.ID])
		s.checkAsked(y, end)
	}
}

// checkRounds walks every minute of the yard's local clock.
func (s *sim) checkRounds(y *simYard, end time.Time) {
	want := map[string]time.Time{}
	for _, slot := range y.yard.Slots {
		walked := walk(y.zone, slot.At, s.start.Add(-48*time.Hour), end.Add(48*time.Hour))
		for day, at := range walked {
			if at.After(s.start) && !at.After(end) {
				want[day+" "+slot.Name] = at
			}
		}
	}
	got := map[string]time.Time{}
	for _, r := range y.rounds(s.t, s.db, tracker.DateOf(s.start)-2, tracker.DateOf(end)+2) {
		name := rounds.KeyOf(r).String()
		if _, twice := got[name]; twice {
			s.t.Errorf("%s: the round %s is there twice", y.zone, name)
		}
		got[name] = r.DueAt
		if r.UseBy.Before(end) && r.State == tracker.RoundOpen {
			s.t.Errorf("%s: the round %s is still open", y.zone, name)
		}
	}
	for name, at := range want {
		if !got[name].Equal(at) {
			s.t.Errorf("%s: the round %s is due at %s, the walk finds %s", y.zone, name, got[name], at)
		}
	}
	s.counts["rounds"] += len(want)
	for name, at := range got {
		if _, known := want[name]; !known && at.After(s.start) && !at.After(end) {
			s.t.Errorf("%s: the walk finds no round %s at %s", y.zone, name, at)
		}
	}
}

// walk finds the first minute at which the local clock shows a time on each day. On a day on which it never does,
// the clock is put forward over it, and the minute is the one that the old clock would have shown.
func walk(zone *time.Location, minute tracker.MinuteOfDay, from, to time.Time) map[string]time.Time {
	found, last := map[string]time.Time{}, map[string]time.Time{}
	for at := from.Truncate(time.Minute); at.Before(to); at = at.Add(time.Minute) {
		local := at.In(zone)
		day := local.Format(time.DateOnly)
		now := tracker.MinuteOfDay(local.Hour()*60 + local.Minute())
		if _, known := found[day]; !known && now == minute {
			found[day] = at
		}
		if _, known := last[day]; !known && now > minute { // the first minute after it on this day
			last[day] = at
		}
	}
	for day, after := range last {
		if _, known := found[day]; !known {
			_, before := after.Add(-time.Minute).In(zone).Zone()
			midnight, _ := time.Parse(time.DateOnly, day)
			found[day] = midnight.Add(time.Duration(minute)*time.Minute - time.Duration(before)*time.Second)
		}
	}
	return found
}

// checkReminders holds what was planned against what the channels took.
func (s *sim) checkReminders(y *simYard, took []notify.Message) {
	times := map[string]int{}
	perDay := map[string]int{}
	for _, m := range took {
		times[m.ID]++
		if !m.TriedAt.Before(m.UseBy) {
			s.t.Errorf("%s was sent at %s, its time was over at %s", m.ID, m.TriedAt, m.UseBy)
		}
	}
	extra := map[string]int{} // by person and day
	seen := map[string]string{}
	for _, r := range y.reminders(s.t, s.db) {
		id := string(r.ID)
		state := r.State
		if state == rounds.Planned || state == rounds.Sending || r.Reason.Sentence() == "" {
			s.t.Errorf("%s %s %s is left %s (%q)", r.Kind, r.Subject, r.Rung, r.State, r.Reason)
		}
		if state == rounds.Sent && times[id] == 0 {
			s.t.Errorf("%s %s is marked sent and was never taken", r.Kind, r.Subject)
		}
		if times[id] > 1+s.doubled[id] {
			s.t.Errorf("%s %s was taken %d times, killed or lost %d times", r.Kind, r.Subject, times[id], s.doubled[id])
		}
		name := fmt.Sprint(r.Kind, r.Subject, r.Rung, r.Person, care.ChannelOf(r.Channel))
		if other, twice := seen[name]; twice && other != r.Channel {
			continue // two phones
		} else if twice {
			s.t.Errorf("%s is there twice", name)
		}
		seen[name] = r.Channel
		s.counts[string(r.State)]++
		if state != rounds.Sent {
			continue
		}
		who := string(r.Person) + r.SentAt.In(y.zone).Format(time.DateOnly)
		if unprompted := r.Rung < rounds.AfterLater || r.Rung >= rounds.Repeat; unprompted {
			perDay[who]++
		}
		extra[who] += s.doubled[id]
	}
	for who, n := range perDay {
		// A message that moved over midnight while its server was down counts for the day on which it went out.
		if n > 4+extra[who]+1 {
			s.t.Errorf("%s got %d messages", who, n)
		}
	}
}

// checkAsked holds the rounds of plain yards, whose people are always there and never ask for a hold, to the
// promise: received, asked for, or named in a summary.
func (s *sim) checkAsked(y *simYard, end time.Time) {
	asked, named, folded := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, r := range y.reminders(s.t, s.db) {
		if r.Kind == rounds.AboutRound && r.State == "sent" {
			asked[r.Subject] = true
		}
		if r.Kind == rounds.AboutRound && r.State == "folded" {
			folded[r.Subject] = true
		}
		if r.State == "sent" {
			var says tracker.News
			must(s.t, json.Unmarshal(r.Facts, &says))
			for _, c := range r.Carries {
				if c.Kind == rounds.AboutRound {
					named[c.Subject] = true
					day, slot, _ := strings.Cut(c.Subject, " ")
					date, _ := tracker.ParseDate(day)
					if !slices.ContainsFunc(says.Lines, func(l string) bool { return strings.Contains(l, tracker.DayName(date)+", "+slot) }) {
						s.t.Errorf("a message carries %s and does not say so: %v", c.Subject, says.Lines)
					}
				}
			}
		}
	}
	for _, r := range y.rounds(s.t, s.db, tracker.DateOf(s.start), tracker.DateOf(end)-3) {
		name := rounds.KeyOf(r).String()
		switch {
		case r.State == tracker.RoundDone:
			s.counts["received"]++
		case asked[name]:
			s.counts["asked"]++
		case named[name]:
			s.counts["summed up"]++
		case r.State == tracker.RoundPartDone && r.UseBy.Before(end): // records held it to its end
			s.counts["part done"]++
		case y.plain:
			s.t.Errorf("%s: nobody was asked about %s (%s), folded %v", y.zone, name, tracker.RoundStateName(r.State), folded[name])
		default:
			s.counts["nobody asked"]++
		}
	}
}
