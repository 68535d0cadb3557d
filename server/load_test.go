package server

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/email"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
	"leground/tracker/store/storetest/pgtest"
)

// TestMailDownSixHours (G3): yards with a round every three hours while the mail server is down from 09:30 to 15:30.
// At most one try every 30 seconds; nothing is lost; nobody gets more than one message that sums up; what became of
// every message is said. The engine, with its database, stays under 150 MB.
func TestMailDownSixHours(t *testing.T) {
	yards := 40
	if long() {
		yards = 5000
	}
	var mu sync.Mutex
	c := &clock{time.Date(2026, 5, 14, 5, 30, 0, 0, time.UTC)} // 06:30 in London
	from, to := c.at.Add(3*time.Hour), c.at.Add(9*time.Hour)
	var last time.Time
	tries, taken, sums, named := 0, 0, map[string]int{}, 0
	mail := &notifytest.Recorder{Forget: true, Answer: func(_ context.Context, m notify.Message) error { // what the sink keeps is not the engine's
		mu.Lock()
		defer mu.Unlock()
		if c.at.Before(from) || !c.at.Before(to) {
			taken++
			if m.Kind == notify.Summary {
				sums[m.To]++
			}
			if strings.Contains(m.Text, "You could not be told in time: Thu 14 May, at10 round: no record.") {
				named++
			}
			return nil
		}
		if tries++; !last.IsZero() && c.at.Sub(last) < 30*time.Second {
			t.Errorf("two tries within %s", c.at.Sub(last))
		}
		last = c.at
		return &notify.Failure{Class: notify.ServerTrouble, What: "Nothing answers."}
	}}
	db := openFile(t)
	r := newRig(t, db, c.now, mail, &notifytest.Recorder{Called: "push"})
	var slots []tracker.Slot
	for hour := 7; hour <= 19; hour += 3 {
		slots = append(slots, tracker.Slot{Name: fmt.Sprintf("at%d", hour), At: tracker.MinuteOfDay(hour * 60)})
	}
	var places []*place
	for range yards {
		places = append(places, newPlace(t, db, "Europe/London", slots, c.at))
	}
	most := uint64(0)
	for end := c.at.Add(17 * time.Hour); c.at.Before(end); c.at = c.at.Add(15 * time.Second) {
		r.turn()
		if c.at.Minute() == 0 && c.at.Second() == 0 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapInuse+m.StackInuse)
		}
	}
	for who, n := range sums {
		if n > 1 {
			t.Errorf("%s got %d summaries", who, n)
		}
	}
	for _, p := range places {
		for _, row := range p.reminders(t, db) {
			if row.State == "planned" || row.State == "sending" {
				t.Errorf("%s %s is left %s (%s)", row.Kind, row.Subject, row.State, row.Reason)
			}
		}
	}
	t.Logf("%d yards, %d messages taken, %d tries in six hours, %d summaries, %d messages that name the round of 10:00; at most %d MB", yards, taken, tries, len(sums), named, most>>20)
	if named+len(sums) < yards {
		t.Errorf("only %d of %d people were told of the round of 10:00", named+len(sums), yards)
	}
	if tries > 6*120 || most > 150<<20 {
		t.Errorf("%d tries, %d MB", tries, most>>20)
	}
}

// TestHangingServer (G4): while a mail server never greets, drips or never answers the dot, a phone's message goes
// out within a second, and the engine stops within ten.
func TestHangingServer(t *testing.T) {
	for name, fault := range map[string]notifytest.Fault{
		"never greets": {At: notifytest.AtGreeting, Do: notifytest.Hang}, "drips": {At: notifytest.AtRcpt, Do: notifytest.Drip},
		"never answers the dot": {At: notifytest.AtDot, Do: notifytest.Hang},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			box, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.NoTLS})
			must(t, err)
			t.Cleanup(box.Close)
			box.Fail(fault)
			mail, err := email.New(email.Settings{Host: "127.0.0.1", Port: box.Port, Security: email.NoTLS, SignIn: email.NoSignIn, From: "yard@marlpit.example"})
			must(t, err)
			push := &notifytest.Recorder{Called: "push"}
			db := openFile(t)
			p := newPlace(t, db, "Europe/London", tracker.DefaultSlots(), noon)
			planTests(t, db, p, 20)
			phones := &scene{newRig(t, db, time.Now, nil, push), p, &clock{time.Now()}, time.UTC}
			way := phones.phone(p.bea, "one")
			s := &Server{settings: Settings{Now: time.Now}}
			d := s.newDeliver(&outbox{db: db, care: phones.care, base: "https://yard.example", host: "yard.example", count: func(string, string) {}}, []notify.Channel{mail, push})
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			must(t, d.RunOnce(ctx, time.Now())) // mail hangs from here on
			now := time.Now()
			must(t, db.Write(t.Context(), p.yard.ID, func(tx care.Tx) error {
				return tx.AddReminder(care.Reminder{ID: tracker.ReminderID(care.NewID()), Kind: care.KindTest, Subject: "to the phone", Person: p.bea.Person.ID,
					Channel: way.ID, Account: way.Account, State: rounds.Planned, Facts: []byte(`{"Kind":"test","Yard":"Marlpit Yard"}`), PlannedAt: now, SendAt: now, UseBy: now.Add(time.Hour)})
			}))
			begun := time.Now()
			done := make(chan error, 1)
			go func() { done <- d.RunOnce(ctx, time.Now()) }()
			await(t, "the phone's message", func() bool { return len(push.Taken()) == 1 })
			if took := time.Since(begun); took > time.Second {
				t.Errorf("the phone's message took %s", took)
			}
			must(t, <-done)
			begun = time.Now()
			stop()
			d.Wait()
			if took := time.Since(begun); took > 10*time.Second {
				t.Errorf("stopping took %s", took)
			}
		})
	}
}

// world is a database with so many yards, of which the first few have a round that is due now, and so many
// messages that are planned for later.
func world(b *testing.B, db *store.DB, c *clock, yards, due, future int) []*place {
	b.Helper()
	var places []*place
	for i := range yards {
		p := newPlace(b, db, "Europe/London", tracker.DefaultSlots(), c.at)
		must(b, db.Write(b.Context(), p.yard.ID, func(tx care.Tx) error {
			for n := range future / yards {
				row := care.Reminder{ID: tracker.ReminderID(care.NewID()), Kind: care.KindTest, Subject: fmt.Sprint("later ", n), Person: p.ada.Person.ID,
					Channel: care.ChannelEmail, Account: care.ChannelEmail, State: rounds.Planned, Facts: []byte(`{}`), PlannedAt: c.at.AddDate(0, 0, -30),
					SendAt: c.at.AddDate(1, 0, n), UseBy: c.at.AddDate(2, 0, 0)}
				if err := tx.AddReminder(row); err != nil {
					return err
				}
			}
			if i >= due {
				return tx.SetWake(c.at.AddDate(0, 0, 30))
			}
			return nil
		}))
		places = append(places, p)
	}
	return places
}

// BenchmarkWorkerMinute (G5) is one minute of the worker in which the morning round of some yards is due: rounds
// are looked at, messages planned, claimed, sent and noted. It runs over those yards alone, and with thousands that
// sleep beside them and a million messages for later. The ratio is printed, and that to a bare loop of the same
// statements. Small unless LEGROUND_LONG=1.
func BenchmarkWorkerMinute(b *testing.B) {
	yards, due, future := 300, 10, 30_000
	if long() {
		yards, due, future = 10_000, 10, 1_000_000
	}
	for name, open := range map[string]func(testing.TB) *store.DB{"sqlite": openFile, "postgres": func(t testing.TB) *store.DB {
		db, err := store.Open(context.Background(), pgtest.URL(t), noon)
		must(t, err)
		t.Cleanup(func() { db.Close() })
		return db
	}} {
		b.Run(name, func(b *testing.B) {
			alone, _ := minute(b, open(b), due, due, 0)
			crowded, _ := minute(b, open(b), yards, due, future)
			many, bare := minute(b, open(b), yards, yards, 0)
			b.ReportMetric(float64(alone.Microseconds())/float64(due), "µs/yard-alone")
			b.ReportMetric(float64(crowded.Microseconds())/float64(due), "µs/yard-crowded")
			b.ReportMetric(float64(crowded)/float64(alone), "crowded/alone")
			b.ReportMetric(float64(many.Microseconds())/float64(yards), "µs/yard-all-due")
			b.ReportMetric(float64(bare)/float64(many), "bare-loop/engine")
		})
	}
}

// minute gives how long one worker minute takes, and how long a bare loop over the same statements does: the best
// of three evenings, when no daily look of the rules is due.
func minute(b *testing.B, db *store.DB, yards, due, future int) (engine, bare time.Duration) {
	b.Helper()
	c := &clock{time.Date(2026, 5, 14, 6, 59, 0, 0, time.UTC)}
	mail := &notifytest.Recorder{}
	r := newRig(b, db, c.now, mail, &notifytest.Recorder{Called: "push"})
	places := world(b, db, c, yards, due, future)
	for day := range 3 {
		for hour := range 11 { // everything before the evening
			c.at = time.Date(2026, 5, 14+day, 6+hour, 59, 0, 0, time.UTC)
			r.turn()
		}
		c.at = time.Date(2026, 5, 14+day, 17, 30, 0, 0, time.UTC)
		before := len(mail.Taken())
		begun := time.Now()
		r.turn()
		took := time.Since(begun)
		if n := len(mail.Taken()) - before; n != due {
			b.Fatalf("%d messages for %d rounds", n, due)
		}
		begun = time.Now()
		bareMinute(b, db, places[:due], c.at)
		if again := time.Since(begun); day == 0 || again < bare {
			bare = again
		}
		if day == 0 || took < engine {
			engine = took
		}
	}
	return engine, bare
}

func bareMinute(b *testing.B, db *store.DB, places []*place, now time.Time) {
	b.Helper()
	for _, p := range places {
		bareTurn(b, db, p, now)
	}
	for {
		rows, err := db.Claim(b.Context(), store.Ask{Account: care.ChannelEmail, Now: now, Limit: 100, Lease: time.Minute})
		must(b, err)
		for _, row := range rows {
			_, err := db.Renew(b.Context(), row, now.Add(time.Minute))
			must(b, err)
			must(b, db.Mark(b.Context(), row, store.Outcome{State: store.Sent, At: now, Reason: "accepted", Answer: "250"}, nil))
		}
		if len(rows) == 0 {
			return
		}
	}
}

// bareTurn is what a turn of a yard asks of the database, and nothing else.
func bareTurn(b *testing.B, db *store.DB, p *place, now time.Time) {
	b.Helper()
	today := tracker.DateOf(now)
	ask := func(err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	must(b, db.Write(b.Context(), p.yard.ID, func(tx care.Tx) error {
		_, err := tx.WakeAt()
		ask(err)
		_, err = tx.Yard()
		ask(err)
		_, err = tx.Horses()
		ask(err)
		_, err = tx.Sites("")
		ask(err)
		_, err = tx.Checks(care.CheckQuery{From: today - 1})
		ask(err)
		_, err = tx.OpenCautions()
		ask(err)
		_, err = tx.Plans("", today-43)
		ask(err)
		_, err = tx.Absences(today)
		ask(err)
		_, err = tx.TickOffs(today-1, today-43)
		ask(err)
		_, err = tx.OneOffs(today - 1)
		ask(err)
		_, _, err = tx.ReminderRules()
		ask(err)
		_, err = tx.Contacts()
		ask(err)
		_, err = tx.Ways()
		ask(err)
		_, err = tx.Presses(now)
		ask(err)
		_, err = tx.ReminderHistory(now.AddDate(0, 0, -3))
		ask(err)
		_, err = tx.Rounds(today-1, today+4)
		ask(err)
		_, err = tx.Mixes(now)
		ask(err)
		row := care.Reminder{ID: tracker.ReminderID(care.NewID()), Kind: care.KindTest, Subject: "bare " + now.String(), Person: p.ada.Person.ID, Channel: care.ChannelEmail,
			Account: care.ChannelEmail, State: rounds.Planned, Facts: []byte(`{"Kind":"test","Yard":"Marlpit Yard"}`), Token: care.NewSecret(), PlannedAt: now, SendAt: now, UseBy: now.Add(time.Hour)}
		ask(tx.AddReminder(row))
		ask(tx.AddRound(tracker.Round{Day: today + 3, Slot: "bare " + now.String(), DueAt: now, UseBy: now, State: tracker.RoundDone}))
		return tx.SetWake(now.Add(time.Hour))
	}))
}
