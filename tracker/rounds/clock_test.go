package rounds

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

func TestResolveVectors(t *testing.T) {
	readings := map[string]Reading{"once": Once, "never": Never, "twice": Twice}
	for _, row := range vectorRows(t, "clock.txt", 5) {
		due, reading := Resolve(date(t, row[1]), minute(t, row[2]), zone(t, row[0]))
		if want := instant(t, row[3]); !due.Equal(want) || reading != readings[row[4]] {
			t.Errorf("%s: due %s, reading %d", strings.Join(row, " "), due, reading)
		}
		if due.Location() != time.UTC {
			t.Errorf("%s: due is not in UTC", strings.Join(row, " "))
		}
	}
}

// walk reads the wall clock of a zone at every minute from two days before one date to two days after
// another, and gives the instant of each local minute: the first at which it was shown, or, where the
// clock was put forward over it, the instant at which a clock that nobody had touched would have shown
// it. It shares nothing with Resolve but the zone.
func walk(z *time.Location, from, to tracker.Date) map[int64]time.Time {
	dues := map[int64]time.Time{}
	add := func(wall int64, at time.Time) {
		if _, seen := dues[wall]; !seen {
			dues[wall] = at
		}
	}
	end := (to + 2).Time()
	last := int64(0)
	for at := (from - 2).Time(); at.Before(end); at = at.Add(time.Minute) {
		y, m, d := at.In(z).Date()
		hour, min, _ := at.In(z).Clock()
		shown := time.Date(y, m, d, hour, min, 0, 0, time.UTC).Unix() / 60
		for skipped := last + 1; last != 0 && skipped < shown; skipped++ {
			add(skipped, at.Add(time.Duration(skipped-last-1)*time.Minute))
		}
		add(shown, at)
		last = shown
	}
	return dues
}

func wallMinute(d tracker.Date, m tracker.MinuteOfDay) int64 { return d.Time().Unix()/60 + int64(m) }

// TestResolveAgainstWalk compares the rule with the walk around clock changes of every zone that Go and
// the system know: a sample, or with LEGROUND_LONG=1 every change from 2000 to 2045.
func TestResolveAgainstWalk(t *testing.T) {
	seed := uint64(20260329)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	zones, compared := distinctZones(t), 0
	if len(zones) < 100 {
		t.Fatalf("only %d zones that differ: zone data is missing", len(zones))
	}
	for _, z := range zones {
		all := changes(z.zone)
		for i, change := range all {
			if i > 0 && change.Sub(all[i-1]) <= 2*farthest {
				t.Errorf("%s: the clock changes at %s and at %s: Resolve takes one change at a time", z.name, all[i-1], change)
			}
			if !long() && random.IntN(20) != 0 {
				continue
			}
			middle := tracker.DateOf(change.In(z.zone))
			dues := walk(z.zone, middle-1, middle+1)
			for day := middle - 1; day <= middle+1; day++ {
				for at := tracker.MinuteOfDay(0); at < 24*60; at += 15 {
					compared++
					if due := Due(day, at, z.zone); !due.Equal(dues[wallMinute(day, at)]) {
						t.Fatalf("%s %s %s: by rule %s, by walking %s", z.name, day, at, due, dues[wallMinute(day, at)])
					}
				}
			}
		}
	}
	t.Logf("%d zones that differ, %d local times compared", len(zones), compared)
}

// TestResolveAgainstPython compares with another implementation of zone data: CPython's zoneinfo with
// fold=0, which PEP 495 defines as RFC 5545 does, on the same files.
func TestResolveAgainstPython(t *testing.T) {
	zones := osZones(t)
	if len(zones) == 0 {
		missing(t, systemZones)
	}
	if _, err := exec.LookPath("python3"); err != nil {
		missing(t, "python3")
	}
	seed := uint64(495)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	count := 20_000
	if long() {
		count = 1_000_000
	}
	var questions, want bytes.Buffer
	for range count {
		z := zones[random.IntN(len(zones))]
		at := firstInstant.Add(time.Duration(random.Int64N(int64(lastInstant.Sub(firstInstant)))))
		if all := changes(z.zone); len(all) > 0 && random.IntN(4) > 0 {
			at = all[random.IntN(len(all))].Add(time.Duration(random.IntN(600)-300) * time.Minute)
		}
		day, wall := tracker.DateOf(at.In(z.zone)), tracker.MinuteOfDay(random.IntN(24*60))
		fmt.Fprintf(&questions, "%s %s %d\n", z.path, day, wall)
		fmt.Fprintf(&want, "%s %s %d %d\n", z.path, day, wall, Due(day, wall, z.zone).Unix())
	}
	const program = `
import sys
from datetime import datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo
@cache
def zone(path):
    with open(path, "rb") as f:
        return ZoneInfo.from_file(f)
for line in sys.stdin:
    path, day, minute = line.split()
    local = datetime.fromisoformat(day) + timedelta(minutes=int(minute))
    print(path, day, minute, int(local.replace(tzinfo=zone(path), fold=0).timestamp()))
`
	python := exec.Command("python3", "-c", program)
	python.Stdin = &questions
	got, err := python.Output()
	if err != nil {
		t.Fatalf("python3: %v", err)
	}
	if bytes.Equal(got, want.Bytes()) {
		return
	}
	theirs := strings.Split(string(got), "\n")
	for i, ours := range strings.Split(want.String(), "\n") {
		if i >= len(theirs) || theirs[i] != ours {
			t.Fatalf("line %d: Leground says %q, Python says %q", i, ours, theirs[min(i, len(theirs)-1)])
		}
	}
}
