package offlinetest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// A phone whose clock is three hours ahead: both times are kept, the look is placed by the corrected one,
// and its page and the phone say so.
func TestAWrongClock(t *testing.T) {
	b := newBarn(t)
	p := NewPhone(t, b.link)
	p.ClockAhead(time.Until(b.site.Clock.Now()) + 3*time.Hour)
	p.SignIn(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	before := b.site.Clock.Now()
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	after := b.site.Clock.Now()
	b.link.Cut(Pass)
	sent(p)
	id := onPhone(p, "record")[0].ID
	c := b.checks()[tracker.RecordID(id)]
	if c.At.Before(before.Add(-2*time.Second)) || c.At.After(after.Add(2*time.Second)) {
		t.Errorf("seen at %v, want between %v and %v", c.At, before, after)
	}
	if off := c.ClockOff - 3*time.Hour; off.Abs() > 5*time.Second {
		t.Errorf("the clock was off by %v, want 3 hours", c.ClockOff)
	}
	if d := c.DeviceAt.Sub(c.At) - c.ClockOff; d.Abs() > time.Second {
		t.Errorf("the phone's own time is %v, seen %v", c.DeviceAt, c.At)
	}
	b.yard.Owner.Get("/check/"+id).Says("3 hours ahead", "Both times are kept")
	p.Open("/phone")
	p.Wait(`document.querySelector('#sent').textContent.includes('180 minutes ahead')`)
}

// A clock that was put back before there was signal again: the time that nobody can set tells.
func TestAClockPutBackBeforeSending(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	Eval[bool](p, `(() => { const now = Date.now.bind(Date), Real = Date; window.ahead = 36e5; window.Date = class extends Real { constructor(...a) { if (a.length) super(...a); else super(now() + window.ahead); } static now() { return now() + window.ahead; } }; return true; })()`)
	before := b.site.Clock.Now()
	b.saveLines(p, 1)
	Eval[bool](p, `(window.ahead = 0, true)`)
	b.link.Cut(Pass)
	p.Wait(`leground.sendNow().then(() => leground.all('record')).then((all) => all.every((r) => r.state === 'sent'))`)
	c := b.checks()[tracker.RecordID(onPhone(p, "record")[0].ID)]
	if d := c.At.Sub(before); d.Abs() > 10*time.Second {
		t.Errorf("seen %v away from when it was, its phone said %v", d, c.DeviceAt)
	}
}

// Ninety days without signal, with a page of the first day: everything is accepted, each look on its own day.
func TestNinetyDaysWithoutSignal(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	start := b.site.Clock.Now()
	Eval[bool](p, fmt.Sprintf(`(async () => {
		const page = document.documentElement.dataset, start = Date.now();
		for (let day = 0; day < 90; day++) {
			const id = leground.newId(), at = leground.stamp(new Date(start + day * 864e5));
			await leground.save({ id, yard: page.yard, person: page.person, name: page.name, path: '/round/site', about: %[1]q, words: 'Bramble RF 1', reading: true, round: 'r' + day, said: '',
				fields: [['record', id], ['site', %[1]q], ['round_day', document.getElementById('round').dataset.day], ['slot', document.getElementById('round').dataset.slot], ['length', String(90 - day)], ['width', '1'], ['exudate', '0'], ['pain', '0'], ['at', at]] });
		}
		return true;
	})()`, b.sites[0]))
	p.clock += 90 * 24 * time.Hour
	b.jump(90 * 24 * time.Hour)
	p.Kill()
	p.session = ""
	p.Start()
	// The session is 90 days old: Ada signs in again.
	b.yard.Owner.Send(b.yard.Owner.Get("/sign-in").Form("/sign-in").With("email", b.yard.Owner.Email).With("password", "four invented words here"))
	p.SignIn(b.yard.Owner)
	b.link.Cut(Pass)
	p.Open("/round")
	sent(p)
	records := onPhone(p, "record")
	have := b.checks()
	for _, r := range records {
		c, ok := have[tracker.RecordID(r.ID)]
		if !ok || r.State != "sent" {
			t.Fatalf("%s is %s on the phone and in the yard: %v (%s)", r.ID, r.State, ok, r.Problem)
		}
		if want := start.AddDate(0, 0, 90-c.Size.LengthMM); c.At.Sub(want).Abs() > time.Minute || c.Day != tracker.DateOf(want) {
			t.Errorf("the look of day %d was placed at %v, want %v", 90-c.Size.LengthMM, c.At, want)
		}
		if d := int(c.Day - c.RoundDay); d < -1 || d > 1 {
			t.Errorf("the look of %v counts for the round of %v", c.Day, c.RoundDay)
		}
	}
	if len(records) != 90 {
		t.Errorf("%d records on the phone, want 90", len(records))
	}
}

// Danger with no signal: the words and the number are on the page when the sign is ticked. The caution is made
// when the record arrives, and the Board has it.
func TestDangerWithNoSignal(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	p.Open("/round")
	enter(p, b.tags[0], "42", "25")
	p.Tap(card(b.tags[0]) + ` input[name=danger][value=not-bearing]`)
	box := p.Text(card(b.tags[0]) + ` .danger:has([value=not-bearing])`)
	if !strings.Contains(strings.ToLower(box), "ring the vet now") {
		t.Errorf("the ticked danger says %q", box)
	}
	if !Eval[bool](p, `document.querySelector(`+quote(card(b.tags[0])+` a.ring[href="tel:01234000000"]`)+`).checkVisibility()`) {
		t.Error("the number to ring cannot be seen")
	}
	save(p, b.tags[0])
	b.link.Cut(Pass)
	sent(p)
	p.Wait(`[...document.querySelectorAll('#ring[open] .slab')].some((e) => e.textContent.includes('Ring the vet now') && e.textContent.includes('Bramble RF 1'))`)
	p.Shot("danger-sent-360")
	b.yard.Owner.Get("/").Says("Ring the vet now")
}

// A40: undo takes a look back, also one that the yard has, and puts its answers and photo back on the card.
func TestA40UndoOnThePhone(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	for name, signal := range map[string]bool{"with signal": true, "with none": false} {
		tag := map[bool]string{true: b.tags[0], false: b.tags[1]}[signal]
		if !signal {
			b.link.Cut(Refuse)
		}
		enter(p, tag, "42", "25")
		choose(p, tag, picture(t, 800, 600, 5))
		save(p, tag)
		if signal {
			sent(p)
			b.seen(p)
		}
		first := onPhone(p, "record")
		p.Tap("#saved button")
		p.Wait(`document.querySelector(` + quote(card(tag)) + `).checkVisibility()`)
		for field, want := range map[string]string{"length": "42", "width": "25", "exudate": "0"} {
			if got := Eval[string](p, `document.querySelector(`+quote(card(tag)+` .look form`)+`).elements.namedItem(`+quote(field)+`).value`); got != want {
				t.Errorf("%s: after undo %s is %q, want %q", name, field, got, want)
			}
		}
		p.Wait(`document.querySelector(` + quote(card(tag)+` .photo-here img`) + `)`)
		time.Sleep(300 * time.Millisecond) // a second tap on a control within 250 ms is a bounce
		save(p, tag)
		b.link.Cut(Pass)
		sent(p)
		roots := map[tracker.RecordID]tracker.Check{}
		for _, c := range b.checks() {
			if c.Version >= roots[c.Root].Version {
				roots[c.Root] = c
			}
		}
		var stand int
		for _, c := range roots {
			if c.Outcome == tracker.Looked && c.Site == b.sites[map[bool]int{true: 0, false: 1}[signal]] {
				stand++
			}
		}
		if stand != 1 {
			t.Errorf("%s: %d looks stand, want 1 (the phone kept %d before)", name, stand, len(first))
		}
	}
}

// The phone is full: the text is kept all the same, and the card says that the photo does not fit.
func TestAFullPhoneKeepsTheText(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	// This browser's own override of the quota changes nothing, so the refusal is planted where the database gives it.
	Eval[bool](p, `(() => {
		const put = IDBObjectStore.prototype.put;
		IDBObjectStore.prototype.put = function (value, key) {
			if (this.name === 'bytes') throw new DOMException('full', 'QuotaExceededError');
			return put.call(this, value, key);
		};
		return true;
	})()`)
	enter(p, b.tags[0], "42", "25")
	setFile(p, card(b.tags[0])+" input[type=file]", picture(t, 1600, 1200, 9))
	p.Says("There is no room for the photo on this phone")
	save(p, b.tags[0])
	if got := onPhone(p, "record"); len(got) != 1 {
		t.Fatalf("%d records on the phone, want 1", len(got))
	}
	b.link.Cut(Pass)
	sent(p)
	b.same(onPhone(p, "record"), nil)
}
