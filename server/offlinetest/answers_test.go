package offlinetest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// long tells whether the long tests run too.
func long() bool { return os.Getenv("LEGROUND_LONG") == "1" }

// saveLines lets the page keep leg lines, one after another, as its own save does.
func (b *barn) saveLines(p *Phone, n int) {
	b.Helper()
	Eval[bool](p, fmt.Sprintf(`(async () => {
		const page = document.documentElement.dataset;
		for (let i = 0; i < %d; i++) {
			const id = leground.newId(), about = %q + ' LF';
			const fields = [['record', id], ['horse', %q], ['leg', 'LF'], ['clear', '1'], ['note', 'line ' + i + '\nand "more" \u00fc'], ['at', leground.stamp(new Date())]];
			await leground.save({ id, yard: page.yard, person: page.person, name: page.name, path: '/round/leg', fields, about, words: 'Bramble LF', reading: true, round: 'test', said: 'line ' + i });
		}
		return true;
	})()`, n, b.yard.Bramble, b.yard.Bramble))
}

// The answers to three in ten records are lost after the yard has committed them. Nothing is doubled, and
// nothing stays on the phone. A thousand records in the long run.
func TestA14AnswersLostAfterTheCommit(t *testing.T) {
	n := 60
	if long() {
		n = 1000
	}
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	b.saveLines(p, n)
	records := onPhone(p, "record")
	dice, lost := rand.New(rand.NewPCG(6, 14)), 0
	b.link.CutAt(Swallow, 0, func() bool {
		if dice.UintN(10) < 3 {
			lost++
			return true
		}
		return false
	})
	for len(b.waiting(p)) > 0 {
		Eval[bool](p, `leground.sendNow().then(() => true)`)
	}
	posts, _ := b.link.Posts()
	t.Logf("%d records, %d posts, %d answers lost", n, posts, lost)
	if lost < n/10 {
		t.Errorf("only %d answers were lost: the link did not do its work", lost)
	}
	b.same(records, nil)
}

// waiting gives what the phone has not sent.
func (b *barn) waiting(p *Phone) []kept {
	b.Helper()
	var out []kept
	for _, r := range append(onPhone(p, "record"), onPhone(p, "photo")...) {
		if r.State == "saved" {
			out = append(out, r)
		}
	}
	return out
}

// What is not the yard's answer is no receipt, whatever it looks like; the pages come from the copy.
func TestCaptivePortalIsNoReceipt(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Portal)
	p.Open("/round")
	p.Says("Walking order")
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	Eval[bool](p, `leground.sendNow().then(() => true)`)
	if got := len(b.waiting(p)); got != 1 {
		t.Errorf("%d records wait, want 1: the portal's page was taken for a receipt", got)
	}
	p.Open("/")
	p.Says("1 reading saved on this phone")
	b.link.Cut(Pass)
	sent(p)
	b.same(onPhone(p, "record"), nil)
}

// A link on which nothing ever answers, and one that drips: the page comes from the copy within a second or
// two, and a save is said to be on the phone at once.
func TestALinkThatHangs(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Hang)
	began := time.Now()
	p.Open("/round")
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("the round took %v to open", took)
	}
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	p.Says("1 reading saved on this phone")
	b.link.CutAt(Drip, 400, nil)
	p.Wait(`leground.sendNow().then(() => leground.all('record')).then((all) => all.every((r) => r.state === 'sent'))`)
	b.same(onPhone(p, "record"), nil)
}

// With nobody signed in, and with somebody else signed in, nothing is sent and nothing is lost.
func TestOnlyTheSamePersonSends(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	mine := onPhone(p, "record")
	before := len(b.checks())

	p.session = b.yard.Carer.Session() // Bea uses Ada's phone
	p.cookie()
	b.link.Cut(Pass)
	p.Open("/round")
	p.Wait(`leground.sendNow().then(() => leground.all('record')).then((all) => all[0].shut)`)
	p.Says("Sign in as Ada")
	if got := len(b.checks()); got != before {
		t.Fatalf("Ada's look was sent under Bea's name")
	}
	p.Open("/people")
	p.Says("This phone holds 1 reading of Ada, not sent yet")
	p.Tap(`form[action="/sign-out"] button`)
	p.Wait(`location.pathname === '/sign-in' && leground.started.then(() => true)`)
	p.Says("This phone holds 1 reading of Ada")
	if got := onPhone(p, "record"); len(got) != 1 || got[0].State != "saved" {
		t.Errorf("signing out left %+v on the phone", got)
	}
	if left := Eval[int](p, `caches.open('pages').then((c) => c.keys()).then((k) => k.length)`); left > 0 {
		t.Error("signing out left the copy of the yard's pages on the phone")
	}
	p.SignIn(b.yard.Owner)
	p.Open("/")
	sent(p)
	b.same(mine, nil)
}

// The same record id with other content: both are kept, and both phone and Board say so.
func TestSameRecordOtherContent(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	first := onPhone(p, "record")[0]
	b.link.Cut(Pass)
	sent(p)
	Eval[bool](p, `(async () => {
		const r = (await leground.all('record'))[0];
		r.fields.find((f) => f[0] === 'length')[1] = '55';
		r.state = 'saved';
		r.hash = await leground.hash(r.fields);
		await leground.put('record', r);
		await leground.sendNow();
		return true;
	})()`)
	got := onPhone(p, "record")[0]
	if got.State != "look" || got.Status != 409 {
		t.Fatalf("the phone's record is %s after %d, want look after 409", got.State, got.Status)
	}
	p.Open("/phone")
	p.Says("Needs a look")
	if c := b.checks()[tracker.RecordID(first.ID)]; c.Size.LengthMM != 42 {
		t.Errorf("the yard's look is now %d mm long, want 42", c.Size.LengthMM)
	}
	b.yard.Owner.Get("/").Says("Needs a look")
	b.yard.Owner.Get("/conflicts").Says("55")
}

// A proxy that takes only small posts: the photo is made smaller and goes.
func TestTooLargeForTheWay(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	enter(p, b.tags[0], "42", "25")
	choose(p, b.tags[0], picture(t, 2400, 1800, 3))
	b.link.CutAt(Narrow, 100_000, nil)
	save(p, b.tags[0])
	sent(p)
	k := onPhone(p, "photo")[0]
	if k.State != "sent" || k.Length > 100_000 || k.Length == 0 {
		t.Fatalf("the photo is %s with %d bytes, want sent with at most 100000", k.State, k.Length)
	}
	if photo, data := b.photo(k.ID); photo.Posted != k.SHA256 || len(data) == 0 {
		t.Errorf("the yard has photo %s, the phone sent %s", photo.Posted, k.SHA256)
	}
}

// What the yard cannot take stays readable with what is wrong, and goes back on its card.
func TestNotTakenIsKeptAndGoesBackOnItsCard(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	p.Tap(card(b.tags[0]) + ` details:not(.look) summary`)
	Eval[bool](p, `(() => {
		const f = document.querySelector(`+quote(card(b.tags[0])+` form`)+`);
		f.elements.written_at.value = '2027-01-01T10:00';
		f.elements.written_at.dispatchEvent(new Event('input', { bubbles: true }));
		return true;
	})()`)
	save(p, b.tags[0])
	b.link.Cut(Pass)
	p.Wait(`leground.sendNow().then(() => leground.all('record')).then((all) => all[0].state === 'look')`)
	p.Open("/phone")
	p.Says("The time on the paper cannot be later than now")
	p.Says("42 x 25 mm")
	p.Shot("phone-look-360")
	p.Tap(`#list button:nth-of-type(2)`)
	p.Wait(`location.pathname === '/round' && document.querySelector('#start')`)
	goTo(p, b.tags[0])
	p.Wait(`document.querySelector(` + quote(card(b.tags[0])+` input[name=length]`) + `).value === '42'`)
	Eval[bool](p, `(document.querySelector(`+quote(card(b.tags[0])+` form`)+`).elements.written_at.value = '', true)`)
	save(p, b.tags[0])
	sent(p)
	var good int
	for _, c := range b.checks() {
		if c.Site == b.sites[0] && c.Size.LengthMM == 42 {
			good++
		}
	}
	if good != 1 {
		t.Errorf("the yard has %d such looks, want 1", good)
	}
}

// A15: two phones at one site. Both readings are kept, both phones are told, none is averaged; care that
// both ticked is asked about at once.
func TestA15TwoPhonesOneSite(t *testing.T) {
	b := newBarn(t)
	hers := NewLink(t, b.site.URL)
	ada, bea := b.phone(b.yard.Owner), b.phoneOn(hers, b.yard.Carer)
	b.ready(ada)
	b.ready(bea)
	b.link.Cut(Refuse)
	hers.Cut(Refuse)
	for i, p := range []*Phone{ada, bea} {
		enter(p, "Bramble RF 1", []string{"42", "46"}[i], "25")
		save(p, "Bramble RF 1")
		goTo(p, "Bramble RF")
		p.Tap(card("Bramble RF") + ` form > details:not(:has([name=skip])) > summary`)
		for _, act := range []string{"washed", "dried"}[:2-i] { // Bea only washed
			p.Tap(card("Bramble RF") + ` input[name=care][value=` + act + `]`)
		}
		save(p, "Bramble RF")
	}
	b.link.Cut(Pass)
	sent(ada)
	hers.Cut(Pass)
	sent(bea)
	b.same(append(onPhone(ada, "record"), onPhone(bea, "record")...), nil)
	bea.Says("Needs a look")
	at := b.now()
	bea.Says("Ada also looked at it in this round, at " + at + ": 42 x 25 mm. Both are kept.")
	bea.Says("Given twice? Ada ticked washed at " + at + " too.")
	bea.Shot("two-phones-bea-360")
	for name, p := range map[string]*Phone{"Ada": ada, "Bea": bea} {
		p.Open("/")
		text := strings.ToLower(p.Text("main"))
		if !strings.Contains(text, "rf 1 was looked at more than once in this round.") || !strings.Contains(text, at+" ada: 42 x 25 mm") || !strings.Contains(text, at+" bea: 46 x 25 mm") || !strings.Contains(text, "given twice? washed was ticked more than once") {
			t.Errorf("%s's Board does not say that RF 1 needs a look:\n%s", name, text)
		}
	}
	ada.Shot("two-phones-board-360")
	ada.Open("/round")
	goTo(ada, "Bramble RF 1")
	if text := ada.Text(card("Bramble RF 1")); !strings.Contains(text, "42 x 25 mm") || !strings.Contains(text, "46 x 25 mm") {
		t.Errorf("the card does not show both sizes: %s", text)
	}
}

// A16: not on the home screen and nothing promised: Board and phone page say so; a copy in the phone's
// files, taken back in on an empty phone, is the same.
func TestA16CopyToFiles(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	p.Open("/")
	p.Says("This phone may throw away readings that are not sent")
	p.Open("/round")
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	choose(p, b.tags[0], picture(t, 1600, 1200, 7))
	save(p, b.tags[0])
	p.Open("/phone")
	p.Says("on the home screen: no")
	p.Says("This phone may throw away what it holds")
	p.Wait(`document.querySelector('#list li')`)
	p.Shot("phone-360")
	text := Eval[string](p, `(async () => {
		let file;
		const make = URL.createObjectURL;
		URL.createObjectURL = (blob) => { file = blob; return make.call(URL, blob); };
		document.getElementById('copy').click();
		while (!file) await new Promise((done) => setTimeout(done, 20));
		return file.text();
	})()`)
	file := t.TempDir() + "/phone.leground"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	records, photos := onPhone(p, "record"), onPhone(p, "photo")

	b.link.Cut(Pass)
	other := b.phone(b.yard.Owner)
	b.ready(other)
	b.link.Cut(Refuse)
	other.Open("/phone")
	take := func(name, want string) {
		t.Helper()
		setFile(other, "#take", name)
		other.Says(want)
	}
	take(file, "2 forms and photos taken in, 0 were here already.")
	take(file, "0 forms and photos taken in, 2 were here already.")
	if got := onPhone(other, "record"); fmt.Sprint(got) != fmt.Sprint(records) {
		t.Errorf("taken back in:\n%v\nwant\n%v", got, records)
	}
	if got := onPhone(other, "photo"); fmt.Sprint(got) != fmt.Sprint(photos) {
		t.Errorf("taken back in:\n%v\nwant\n%v", got, photos)
	}
	bad := t.TempDir() + "/bad.leground"
	if err := os.WriteFile(bad, []byte(strings.Replace(text, `["length","42"]`, `["length","24"]`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	Eval[bool](other, `(async () => { for (const r of await leground.all('record')) await leground.drop('record', r.id); return true; })()`)
	take(bad, "1 could not be read")
	take(file, "1 form or photo taken in")
	b.link.Cut(Pass)
	sent(other)
	sent(p)
	b.same(records, photos)
}
