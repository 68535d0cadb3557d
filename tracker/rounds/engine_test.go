package rounds

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"leground/tracker"

	"github.com/google/go-cmp/cmp"
)

func yardSchedule(t *testing.T, name string) Schedule {
	return Schedule{Zone: zone(t, name), Days: Days{Every: 1}, First: date(t, "2026-01-01"), Slots: []tracker.Slot{
		{Name: "evening", At: 18*60 + 30}, {Name: "morning", At: 7 * 60},
	}}
}

// TestExpectedHeals plans with random rests and outages of up to ten days over clock changes, on a clock
// that is at times put back, and ends with exactly the rounds of the calendar: none missing, none twice.
func TestExpectedHeals(t *testing.T) {
	seed := uint64(48)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	for _, name := range []string{"Europe/London", "America/New_York", "Pacific/Chatham", "Australia/Lord_Howe", "Africa/Cairo"} {
		s := yardSchedule(t, name)
		made := map[Key]tracker.Round{}
		since := instant(t, "2026-02-01T00:00:00Z")
		end := instant(t, "2026-12-01T00:00:00Z")
		begin := since
		for now := since; now.Before(end); now = now.Add(time.Duration(random.IntN(3000)-40) * time.Minute) {
			if random.IntN(20) == 0 {
				now = now.Add(time.Duration(random.IntN(240)) * time.Hour)
			}
			all, err := s.Expected(since, now)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range all {
				if old, twice := made[KeyOf(r)]; twice && !old.DueAt.Equal(r.DueAt) {
					t.Fatalf("%s: %s is due at %s and at %s", name, KeyOf(r), old.DueAt, r.DueAt)
				}
				made[KeyOf(r)] = r
			}
			since = now.Add(Horizon)
			if again, err := s.Expected(since, now); len(again) != 0 || err != nil {
				t.Fatalf("%s: asked again at once, %d more rounds, %v", name, len(again), err)
			}
		}
		all, err := s.Rounds(date(t, "2026-01-30"), date(t, "2026-12-10"))
		if err != nil {
			t.Fatal(err)
		}
		want := map[Key]tracker.Round{}
		for _, r := range all {
			if r.DueAt.After(begin) && !r.DueAt.After(since) {
				want[KeyOf(r)] = r
			}
		}
		for key, r := range made {
			if r.DueAt.After(since) { // made before the clock was put back for the last time
				want[key] = r
			}
		}
		if diff := cmp.Diff(want, made); diff != "" {
			t.Errorf("%s (-want +made):\n%s", name, diff)
		}
	}
}

func TestExpectedBounds(t *testing.T) {
	s := yardSchedule(t, "Europe/London")
	now := instant(t, "2026-05-14T06:00:00Z") // 07:00 in London
	all, err := s.Expected(now.Add(-time.Minute), now)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range all {
		got = append(got, KeyOf(r).String())
	}
	want := "2026-05-14 morning, 2026-05-14 evening, 2026-05-15 morning, 2026-05-15 evening, 2026-05-16 morning"
	if strings.Join(got, ", ") != want {
		t.Errorf("got %s, want %s", strings.Join(got, ", "), want)
	}
	if all, err := s.Expected(time.Time{}, instant(t, "2026-01-01T00:00:00Z")); err != nil || len(all) != 4 {
		t.Errorf("from the beginning of time: %d rounds, %v", len(all), err)
	}
	if all, err := s.Expected(time.Time{}, instant(t, "2025-01-01T00:00:00Z")); err != nil || len(all) != 0 {
		t.Errorf("before the schedule begins: %d rounds, %v", len(all), err)
	}
	s.Slots = make([]tracker.Slot, 25)
	if _, err := s.Expected(now, now); err == nil || !strings.Contains(err.Error(), "25 rounds a day are too many: at most 24") {
		t.Errorf("25 rounds a day: %v", err)
	}
}

func TestScheduleRefusals(t *testing.T) {
	day := date(t, "2026-05-14")
	for words, change := range map[string]func(*Schedule){
		"no time zone":             func(s *Schedule) { s.Zone = nil },
		"no first day":             func(s *Schedule) { s.First = 0 },
		"is before the first":      func(s *Schedule) { s.Last = s.First - 1 },
		"every 0 days":             func(s *Schedule) { s.Days = Days{} },
		"no time of day":           func(s *Schedule) { s.Slots = nil },
		"1440 minutes":             func(s *Schedule) { s.Slots[0].At = 1440 },
		"has no name":              func(s *Schedule) { s.Slots[0].Name = " " },
		"07:00 is given twice":     func(s *Schedule) { s.Slots[0].At = s.Slots[1].At },
		`two slots are called "mo`: func(s *Schedule) { s.Slots[0].Name = "morning" },
		"more than 100 years":      func(s *Schedule) { s.First -= 40000 },
	} {
		s := yardSchedule(t, "Europe/London")
		change(&s)
		if _, err := s.Rounds(s.First, day); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("want a refusal with %q, got %v", words, err)
		}
	}
	if _, err := yardSchedule(t, "UTC").Rounds(day, day-1); err == nil {
		t.Error("a span that ends before it begins is taken")
	}
}

func TestRecompute(t *testing.T) {
	london := yardSchedule(t, "Europe/London")
	day := date(t, "2026-05-14")
	before, err := london.Rounds(day, day)
	if err != nil {
		t.Fatal(err)
	}
	evening := before[1]
	paris := yardSchedule(t, "Europe/Paris")
	moved, change, err := paris.Recompute(evening, false)
	if err != nil || change != Moved || !moved.DueAt.Equal(evening.DueAt.Add(-time.Hour)) || KeyOf(moved) != KeyOf(evening) {
		t.Errorf("a new zone: %v, change %d, %v", moved, change, err)
	}
	for name, c := range map[string]struct {
		round tracker.Round
		asked bool
		with  Schedule
		want  Change
	}{
		"asked already":  {evening, true, paris, Kept},
		"not open":       {tracker.Round{Day: day, Slot: "evening", DueAt: evening.DueAt, State: tracker.RoundDone}, false, paris, Kept},
		"nothing new":    {evening, false, london, Kept},
		"slot taken out": {tracker.Round{Day: day, Slot: "noon", State: tracker.RoundOpen}, false, paris, Gone},
		"day taken out":  {tracker.Round{Day: date(t, "2025-05-14"), Slot: "evening", State: tracker.RoundOpen}, false, paris, Gone},
	} {
		if got, change, err := c.with.Recompute(c.round, c.asked); err != nil || change != c.want || got != c.round {
			t.Errorf("%s: change %d, %v, %v", name, change, got, err)
		}
	}
	// A later neighbour moves the use-by alone.
	london.Slots = append(london.Slots, tracker.Slot{Name: "night", At: 22 * 60})
	if r, change, err := london.Recompute(evening, false); err != nil || change != Moved || r.UseBy.Sub(r.DueAt) != 3*time.Hour+30*time.Minute {
		t.Errorf("a new slot: %v, change %d, %v", r, change, err)
	}
}

func TestTogether(t *testing.T) {
	s := Schedule{Zone: zone(t, "Europe/Berlin"), Days: Days{Every: 1}, First: date(t, "2026-03-01"),
		Slots: []tracker.Slot{{Name: "early", At: 150}, {Name: "late", At: 210}}}
	all, err := s.Rounds(date(t, "2026-03-28"), date(t, "2026-03-29"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, part := range Together(all) {
		words := ""
		for _, r := range part {
			words += "/" + KeyOf(r).String()
		}
		got = append(got, words)
	}
	want := []string{"/2026-03-28 early", "/2026-03-28 late", "/2026-03-29 early/2026-03-29 late"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("messages (-want +got):\n%s", diff)
	}
	if last := all[2]; !last.UseBy.Equal(all[3].UseBy) || !last.UseBy.After(last.DueAt) {
		t.Errorf("two rounds at one instant: used by %s and %s", last.UseBy, all[3].UseBy)
	}
}

func TestClockBack(t *testing.T) {
	now := instant(t, "2026-05-14T06:00:00Z")
	if ClockBack(now, now.Add(-5*time.Minute)) || !ClockBack(now, now.Add(-5*time.Minute-1)) {
		t.Error("the clock is back when it is back by more than 5 minutes")
	}
}
