package rounds

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"leground/tracker"
)

// quarters are the quarter hours of a day in four schedules, each as full as a schedule may be.
func quarters(z *time.Location, first tracker.Date) []Schedule {
	var all []Schedule
	for i := range 4 {
		s := Schedule{Zone: z, Days: Days{Every: 1}, First: first}
		for hour := range 24 {
			at := tracker.MinuteOfDay(hour*60 + i*15)
			s.Slots = append(s.Slots, tracker.Slot{Name: at.String(), At: at})
		}
		all = append(all, s)
	}
	return all
}

// TestOneRoundPerDateAndSlot expands every quarter hour in every zone: one round for each local date and
// slot, due later each day than the day before. Long: all of 2000 to 2045; else one year of some zones.
// The one exception is the day that Samoa and Tokelau left out when they moved west of the date line,
// 2011-12-30 (IANA time zone database, file australasia).
func TestOneRoundPerDateAndSlot(t *testing.T) {
	seed := uint64(96)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	zones := distinctZones(t)
	first, last := tracker.NewDate(2000, 1, 1), tracker.NewDate(2045, 12, 31)
	rounds := 0
	left := map[string]bool{}
	for _, z := range zones {
		from, to := first, last
		if apia := strings.HasSuffix(z.name, "/Apia") || strings.HasSuffix(z.name, "/Fakaofo"); !long() {
			if !apia && random.IntN(12) != 0 {
				continue
			}
			from = tracker.NewDate(2000+random.IntN(46), 1, 1)
			if apia {
				from = tracker.NewDate(2011, 6, 1)
			}
			to = from + 365
		}
		for _, s := range quarters(z.zone, from) {
			all, err := s.Rounds(from, to)
			if err != nil {
				t.Fatal(err)
			}
			if want := int(to-from+1) * len(s.Slots); len(all) != want {
				t.Fatalf("%s: %d rounds, want %d", z.name, len(all), want)
			}
			rounds += len(all)
			for _, same := range checkRising(t, z, s, all) {
				left[same.String()+" "+z.name[strings.LastIndex(z.name, "/")+1:]] = true
			}
		}
	}
	want := map[string]bool{"2011-12-30 Apia": true, "2011-12-30 Fakaofo": true}
	if diff := cmp.Diff(want, left); diff != "" {
		t.Errorf("days on which a slot is due at the same instant as on the next (-want +got):\n%s", diff)
	}
	t.Logf("%d zones that differ, %d rounds", len(zones), rounds)
}

// checkRising compares each round with the one of the same slot a day later and with its own use-by, and
// gives the days that fall on the same instant as the next.
func checkRising(t *testing.T, z zoneFile, s Schedule, all []tracker.Round) []tracker.Date {
	t.Helper()
	var same []tracker.Date
	for i, r := range all {
		slot := s.Slots[i%len(s.Slots)]
		if r.Slot != slot.Name || r.Day != all[0].Day+tracker.Date(i/len(s.Slots)) {
			t.Fatalf("%s: round %d is %s", z.name, i, KeyOf(r))
		}
		if !r.DueAt.Before(r.UseBy) || r.UseBy.After(r.DueAt.Add(LongestUse)) {
			t.Fatalf("%s %s: due %s, use by %s", z.name, KeyOf(r), r.DueAt, r.UseBy)
		}
		if i < len(s.Slots) {
			continue
		}
		before := all[i-len(s.Slots)]
		if r.DueAt.Equal(before.DueAt) {
			if _, reading := Resolve(before.Day, slot.At, s.Zone); reading != Never {
				t.Fatalf("%s %s: same instant as the day before, though that time existed", z.name, KeyOf(r))
			}
			same = append(same, before.Day)
		} else if r.DueAt.Before(before.DueAt) {
			t.Fatalf("%s %s: due before the day before", z.name, KeyOf(r))
		}
	}
	return same
}

// walkRounds is Schedule.Rounds by another way: it walks the wall clock minute by minute and counts the
// days as they come, and finds each use-by by looking at every other round.
func walkRounds(s Schedule, from, to tracker.Date) []string {
	dues := walk(s.Zone, from-4, to+4)
	type due struct {
		day  tracker.Date
		slot string
		at   time.Time
	}
	var all []due
	counted, weekday := 0, int(s.First.Weekday())
	for day := s.First; day <= to+4 && (s.Last == 0 || day <= s.Last); day++ {
		falls := s.Days.On&(1<<weekday) != 0
		if s.Days.On == 0 {
			falls = counted == 0
		}
		if counted++; counted == s.Days.Every {
			counted = 0
		}
		weekday = (weekday + 1) % 7
		for m := range tracker.MinuteOfDay(24 * 60) {
			for _, slot := range s.Slots {
				if falls && day >= from-4 && slot.At == m {
					all = append(all, due{day, slot.Name, dues[wallMinute(day, m)]})
				}
			}
		}
	}
	var words []string
	for _, r := range all {
		if r.day < from || r.day > to {
			continue
		}
		useBy := r.at.Add(18 * time.Hour)
		for _, other := range all {
			if other.at.After(r.at) && other.at.Before(useBy) {
				useBy = other.at
			}
		}
		words = append(words, fmt.Sprint(r.day, " ", r.slot, " ", r.at.Unix(), " ", useBy.Unix()))
	}
	return words
}

// FuzzSchedule makes schedules and expands them by rule and by walking the clock; the two must agree.
func FuzzSchedule(f *testing.F) {
	zones := distinctZones(f)
	days := func(name, first string) (uint16, uint16) {
		at := slices.IndexFunc(zones, func(z zoneFile) bool { return z.name == name })
		return uint16(max(at, 0)), uint16(date(f, first) - tracker.NewDate(2000, 1, 1))
	}
	seed := func(name, first string, slots []byte, every, on uint8) {
		z, d := days(name, first)
		f.Add(z, d, uint8(5), slots, every, on, uint8(0))
	}
	// Slots are given as quarter hours: 10 is 02:30, 15 is 03:45.
	seed("go:Europe/Berlin", "2026-03-28", []byte{10, 13, 28}, 1, 0)
	seed("go:Europe/Berlin", "2026-10-24", []byte{10, 13}, 2, 0)
	seed("go:America/New_York", "2026-03-07", []byte{6, 10}, 0, 1)
	seed("go:Pacific/Chatham", "2026-04-04", []byte{15}, 1, 0)
	seed("go:Australia/Lord_Howe", "2026-10-03", []byte{0, 8, 9, 12}, 1, 0)
	seed("go:Africa/Cairo", "2026-04-23", []byte{0, 95}, 0, 0x7f)
	seed("go:Pacific/Apia", "2011-12-28", []byte{28, 74}, 1, 0)
	f.Fuzz(func(t *testing.T, z, first uint16, span uint8, slots []byte, every, on, last uint8) {
		s := Schedule{
			Zone:  zones[int(z)%len(zones)].zone,
			Days:  Days{Every: int(every), On: Weekdays(on)},
			First: tracker.NewDate(2000, 1, 1) + tracker.Date(first)%16801,
		}
		for _, slot := range slots {
			at := tracker.MinuteOfDay(slot) * 15
			s.Slots = append(s.Slots, tracker.Slot{Name: at.String(), At: at})
		}
		from := s.First + tracker.Date(first%3) - 1
		to := from + tracker.Date(span%20)
		if last > 0 {
			s.Last = s.First + tracker.Date(last%30)
		}
		rounds, err := s.Rounds(from, to)
		if (err == nil) != (s.Check() == nil) {
			t.Fatalf("Check says %v, Rounds says %v", s.Check(), err)
		}
		if err != nil {
			return
		}
		var got []string
		for _, r := range rounds {
			got = append(got, fmt.Sprint(r.Day, " ", r.Slot, " ", r.DueAt.Unix(), " ", r.UseBy.Unix()))
		}
		if diff := cmp.Diff(walkRounds(s, from, to), got); diff != "" {
			t.Fatalf("%s: by walking (-) and by rule (+) differ:\n%s", s.Zone, diff)
		}
	})
}
