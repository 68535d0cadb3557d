package offlinetest

import (
	"context"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	cdpruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"leground/tracker"
)

// A phone that is killed at random moments while it saves: whatever it said was saved is in the yard once
// it has signal again, exactly once. A hundred kills over a thousand saves in the long run.
func TestKilledWhileSaving(t *testing.T) {
	kills, each := 3, 10
	if long() {
		kills = 100
	}
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	dice := rand.New(rand.NewPCG(6, 100))
	said := map[string]bool{} // record ids that the page called saved
	var mu sync.Mutex
	var before int
	for kill := range kills {
		ctx, cancel := context.WithCancel(p.context)
		err := chromedp.Listen(ctx, func(event any) {
			if e, ok := event.(*cdpruntime.EventConsoleAPICalled); ok && len(e.Args) > 0 {
				if text := string(e.Args[0].Value); strings.HasPrefix(text, `"saved `) {
					mu.Lock()
					said[strings.Trim(strings.TrimPrefix(text, `"saved `), `"`)] = true
					mu.Unlock()
				}
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		Eval[bool](p, fmt.Sprintf(`(() => {
			const page = document.documentElement.dataset;
			(async () => {
				for (let i = 0; ; i++) {
					const id = leground.newId();
					await leground.save({ id, yard: page.yard, person: page.person, name: page.name, path: '/round/leg', about: 'kill', words: 'Bramble LF', reading: true, round: 'k', said: '',
						fields: [['record', id], ['horse', %q], ['leg', 'LF'], ['clear', '1'], ['note', 'kill %d, save ' + i], ['at', leground.stamp(new Date())]] });
					console.log('saved ' + id);
				}
			})();
			return true;
		})()`, b.yard.Bramble, kill))
		until := time.Now().Add(20 * time.Second)
		for time.Now().Before(until) {
			mu.Lock()
			n := len(said)
			mu.Unlock()
			if n >= before+each {
				break
			}
			time.Sleep(time.Millisecond)
		}
		time.Sleep(time.Duration(dice.IntN(30)) * time.Millisecond)
		p.Kill()
		cancel()
		mu.Lock()
		before = len(said)
		mu.Unlock()
		p.Start()
		p.Open("/round")
		there, gone := map[string]bool{}, 0
		for _, k := range onPhone(p, "record") {
			there[k.ID] = true
		}
		mu.Lock()
		for id := range said {
			if !there[id] {
				gone++
			}
		}
		mu.Unlock()
		if gone > 0 {
			t.Fatalf("after kill %d the phone lacks %d of %d looks that it called saved; it has %d", kill+1, gone, len(said), len(there))
		}
	}
	b.link.Cut(Pass)
	for range 20 {
		if len(b.waiting(p)) == 0 {
			break
		}
		Eval[bool](p, `Promise.race([leground.sendNow(), new Promise((done) => setTimeout(done, 20000))]).then(() => true)`)
	}
	have := b.checks() // fails by itself when a record is there twice
	lost := 0
	for id := range said {
		if _, ok := have[tracker.RecordID(id)]; !ok {
			lost++
		}
	}
	t.Logf("%d kills, %d saves said to be kept, %d in the yard, %d lost", kills, len(said), len(have), lost)
	if lost > 0 || len(said) < kills*each {
		t.Errorf("%d of %d saved looks are lost", lost, len(said))
	}
}

// Hundreds of checks and photos in one go: the server's memory stays flat. 500 and 200 in the long run.
func TestABigQueueInOneGo(t *testing.T) {
	checks, photos := 60, 12
	if long() {
		checks, photos = 500, 200
	}
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	b.saveLines(p, checks)
	enter(p, b.tags[0], "42", "25")
	choose(p, b.tags[0], picture(t, 1600, 1200, 2))
	save(p, b.tags[0])
	Eval[bool](p, fmt.Sprintf(`(async () => {
		const first = (await leground.all('photo'))[0], bytes = await leground.get('bytes', first.id);
		for (let i = 1; i < %d; i++) {
			const photo = { ...first, id: leground.newId() };
			await leground.keepPhoto(photo.id, bytes);
			await leground.put('photo', photo);
		}
		return true;
	})()`, photos))
	var idle, most runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&idle)
	b.link.Cut(Pass)
	began := time.Now()
	Eval[bool](p, `(window.going = leground.sendNow().then(() => { window.gone = true; }), true)`)
	for !Eval[bool](p, `!!window.gone`) {
		var now runtime.MemStats
		runtime.ReadMemStats(&now)
		if now.HeapInuse > most.HeapInuse {
			most = now
		}
		time.Sleep(100 * time.Millisecond)
		if time.Since(began) > 15*time.Minute {
			t.Fatal("the queue was not sent in 15 minutes")
		}
	}
	t.Logf("%d checks and %d photos in %v; heap %d MB before, at most %d MB", checks+1, photos, time.Since(began).Round(time.Second), idle.HeapInuse>>20, most.HeapInuse>>20)
	if left := b.waiting(p); len(left) > 0 {
		t.Errorf("%d things wait still", len(left))
	}
	if grew := int64(most.HeapInuse-idle.HeapInuse) >> 20; grew > 120 {
		t.Errorf("the heap grew by %d MB while the queue came in, at most 120: one photo at a time costs about 50", grew)
	}
	if got := len(b.checks()); got != checks+1 {
		t.Errorf("the yard has %d looks, want %d", got, checks+1)
	}
}
