package offlinetest

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
)

// barn is a yard with seven sites on three horses, the owner Ada, the carer Bea, and a link to it.
type barn struct {
	*testing.T
	site  *webtest.Site
	yard  *webtest.Yard
	link  *Link
	sites []tracker.SiteID // in walking order
	tags  []string         // of the sites, with their horses
	ahead atomic.Int64     // how far the yard's clock was moved on, in nanoseconds
}

// jump moves the yard's clock on.
func (b *barn) jump(by time.Duration) {
	b.ahead.Add(int64(by))
	for until := b.site.Clock.Now().Add(by / 2); b.site.Clock.Now().Before(until); {
		time.Sleep(5 * time.Millisecond)
	}
}

func newBarn(t *testing.T) *barn {
	t.Helper()
	// Today at noon: a service worker's clock cannot be set, and may not be months away from the yard's.
	noon := time.Now().UTC().Truncate(24 * time.Hour).Add(12 * time.Hour)
	b := &barn{T: t, site: webtest.Start(t, webtest.Options{Now: noon})}
	b.yard = b.site.Marl()
	add := func(horse tracker.HorseID, leg, kind, region string) tracker.SiteID {
		return b.yard.Owner.Finds(horse, leg, kind, region, "back")
	}
	rf2 := add(b.yard.Bramble, "RF", "wound", "fetlock")
	lh1 := add(b.yard.Bramble, "LH", "wound", "pastern")
	rh1 := add(b.yard.OldTom, "RH", "patch", "pastern")
	lh := add(b.yard.Junip, "LH", "wound", "upper-cannon")
	b.sites = []tracker.SiteID{b.yard.Wound, rf2, b.yard.Patch, lh1, b.yard.Small, rh1, lh}
	b.tags = []string{"Bramble RF 1", "Bramble RF 2", "Bramble RH 1", "Bramble LH 1", "Old Tom LF 1", "Old Tom RH 1", "Juniper LH 1"}
	b.link = NewLink(t, b.site.URL)
	b.run()
	return b
}

// run lets the yard's clock go on like any other, so that a phone's clock can be right.
func (b *barn) run() {
	start, began, stop := b.site.Clock.Now(), time.Now(), make(chan struct{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		for tick := time.NewTicker(20 * time.Millisecond); ; {
			select {
			case <-tick.C:
				b.site.Clock.Set(start.Add(time.Since(began) + time.Duration(b.ahead.Load())))
			case <-stop:
				tick.Stop()
				return
			}
		}
	}()
	b.Cleanup(func() { close(stop); <-done })
}

// now gives the time of day by the yard's clock, as its pages write it.
func (b *barn) now() string {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		b.Fatal(err)
	}
	return b.site.Clock.Now().In(zone).Format("15:04")
}

// phone gives a signed-in phone whose clock is the yard's.
func (b *barn) phone(who *webtest.Person) *Phone {
	b.Helper()
	return b.phoneOn(b.link, who)
}

// phoneOn is phone at the end of a link of its own.
func (b *barn) phoneOn(link *Link, who *webtest.Person) *Phone {
	b.Helper()
	p := NewPhone(b, link)
	p.ClockAhead(time.Until(b.site.Clock.Now()))
	p.SignIn(who)
	return p
}

// ready opens the round once with signal and waits until everything that opens without it is on the phone.
func (b *barn) ready(p *Phone) {
	b.Helper()
	p.Open("/round")
	p.Wait(`navigator.serviceWorker.controller && leground.get('note', 'filled')`)
}

// card is the selector of a site's card.
func card(tag string) string { return `article.card:has(form[data-tag="` + tag + `"])` }

// goTo opens a card by its place in the walk.
func goTo(p *Phone, tag string) {
	p.TB.Helper()
	Eval[bool](p, `(location.hash = document.querySelector(`+quote(card(tag))+`).id, true)`)
	p.Wait(`document.querySelector(` + quote(card(tag)) + `).checkVisibility()`)
}

// enter fills in a site's card: a size, dry and painless, or for a patch all six signs.
func enter(p *Phone, tag, length, width string) {
	p.TB.Helper()
	goTo(p, tag)
	box := card(tag)
	for name, value := range map[string]string{"length": length, "width": width} {
		p.Tap(box + ` input[name="` + name + `"]`)
		p.Do(chromedp.KeyEvent(value))
	}
	signs := Eval[[]string](p, `[...new Set([...document.querySelectorAll(`+quote(box+` input[type=radio][value="0"]`)+`)].map((e) => e.name))]`)
	for _, sign := range signs {
		p.Tap(box + ` input[name="` + sign + `"][value="0"]`)
	}
}

// save presses the bar and waits until the phone has it.
func save(p *Phone, tag string) {
	p.TB.Helper()
	p.Tap(card(tag) + ` .save-bar .main-bar`)
	p.Wait(`leground.all('record').then((all) => all.some((r) => r.words === ` + quote(tag) + `)) && document.querySelector('#saved p').textContent.startsWith(` + quote(tag) + `) && !document.querySelector(` + quote(card(tag)) + `).checkVisibility()`)
}

// choose gives the card a file, as the phone's camera does.
func choose(p *Phone, tag, file string) {
	p.TB.Helper()
	setFile(p, card(tag)+" input[type=file]", file)
	p.Wait(`document.querySelector(` + quote(card(tag)+` .photo-here img`) + `)`)
}

// setFile chooses a file of this machine in the page.
func setFile(p *Phone, selector, file string) {
	p.TB.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		found, err := chromedp.Call(ctx, runtime.Evaluate, runtime.EvaluateParams{Expression: `document.querySelector(` + quote(selector) + `)`})
		if err != nil {
			return err
		}
		_, err = chromedp.Call(ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{file}, ObjectID: found.Result.ObjectID})
		return err
	}))
}

// picture writes a photo with soft shapes and the grain of a camera in a dim barn, and gives its name.
func picture(t testing.TB, width, height int, seed uint64) string {
	t.Helper()
	dice := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			base := 120 + 60*math.Sin(float64(x)/180+float64(seed))*math.Cos(float64(y)/140)
			grain := float64(dice.UintN(24))
			img.SetRGBA(x, y, color.RGBA{uint8(base + grain + 30), uint8(base + grain), uint8(base*0.8 + grain), 255})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), fmt.Sprintf("IMG_%04d.jpg", seed))
	if err := os.WriteFile(name, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

// kept is what the phone has of a record or photo.
type kept struct {
	ID, Words, Path, Hash, State, Person, Problem, About string
	Of, SHA256                                           string
	Length                                               int
	Status                                               int
	Fields                                               [][2]string
	Answer                                               struct{ Also, Twice string }
}

func onPhone(p *Phone, store string) []kept {
	p.TB.Helper()
	return Eval[[]kept](p, `leground.all(`+quote(store)+`)`)
}

// checks gives every version of every look that the server has, by record id.
func (b *barn) checks() map[tracker.RecordID]tracker.Check {
	b.Helper()
	out := map[tracker.RecordID]tracker.Check{}
	err := b.site.Store().Read(b.Context(), b.yardID(), func(tx care.Tx) error {
		all, err := tx.Checks(care.CheckQuery{All: true})
		for _, c := range all {
			if _, twice := out[c.ID]; twice {
				b.Errorf("the yard has record %s twice", c.ID)
			}
			out[c.ID] = c
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	return out
}

func (b *barn) yardID() tracker.YardID {
	b.Helper()
	actor, err := b.site.Care.Actor(b.Context(), b.yard.Owner.Session())
	if err != nil {
		b.Fatal(err)
	}
	return actor.Yard
}

// photo gives a stored photo.
func (b *barn) photo(id string) (tracker.Photo, []byte) {
	b.Helper()
	var photo tracker.Photo
	var data []byte
	err := b.site.Store().Read(b.Context(), b.yardID(), func(tx care.Tx) (err error) {
		if photo, err = tx.Photo(tracker.PhotoID(id)); err != nil {
			return err
		}
		data, err = tx.PhotoBytes(photo.ID, false)
		return err
	})
	if err != nil {
		b.Errorf("photo %s: %v", id, err)
	}
	return photo, data
}

// thumb gives the small picture of a stored photo.
func (b *barn) thumb(id string) (data []byte, err error) {
	err = b.site.Store().Read(b.Context(), b.yardID(), func(tx care.Tx) (err error) {
		data, err = tx.PhotoBytes(tracker.PhotoID(id), true)
		return err
	})
	return data, err
}

// sent waits until nothing on the phone waits any more.
func sent(p *Phone) {
	p.TB.Helper()
	p.Wait(`(async () => { await leground.sendNow(); return ![...await leground.all('record'), ...await leground.all('photo')].some((r) => r.state === 'saved'); })()`)
}

// field gives a field of what was posted.
func (k kept) field(name string) string {
	for _, f := range k.Fields {
		if f[0] == name {
			return f[1]
		}
	}
	return ""
}
