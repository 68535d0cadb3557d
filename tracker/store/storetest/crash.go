package storetest

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// childVariable names, in a child process, the database and the yard that it writes to.
const childVariable = "LEGROUND_STORE_CHILD"

// child is what a child process is told.
type child struct {
	Where string
	Place Place
}

// Child saves checks until it is killed and prints the id of each that was acknowledged, if this process is
// meant to do so. Call it from TestMain, and exit when it returns true.
func Child() bool {
	told := os.Getenv(childVariable)
	if told == "" {
		return false
	}
	var c child
	if err := json.Unmarshal([]byte(told), &c); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return true
	}
	db, err := store.Open(context.Background(), c.Where, noon)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return true
	}
	together(4, func(int) {
		for {
			check := Look(c.Place, c.Place.Wound, 0, tracker.Measured)
			err := db.Write(context.Background(), c.Place.Yard.ID, func(tx care.Tx) error {
				if err := tx.AddCheck(check); err != nil {
					return err
				}
				e := event(c.Place, tracker.BandageOn, 0)
				e.Note = string(check.ID) // belongs to the check, which may not be there without it
				return tx.AddEvent(e)
			})
			if err != nil {
				fmt.Fprintln(os.Stderr, err)
				return
			}
			fmt.Println(check.ID) // one write call, so that lines of several writers do not mix
		}
	})
	return true
}

// Crash starts a child process that saves checks, kills it in the middle of that, and looks whether every
// check that it acknowledged is there, so many times. Open opens the database anew each time, and where is
// what the child opens. KillServer, if any, kills the server first, and leaves it running again.
func Crash(t *testing.T, times int, where string, open Open, killServer func()) {
	p := NewHouse(t, open(t)).Mine
	told, err := json.Marshal(child{where, p})
	if err != nil {
		t.Fatal(err)
	}
	acknowledged := map[tracker.RecordID]bool{}
	for n := range times {
		before := len(acknowledged)
		for _, id := range runChild(t, string(told), killServer) {
			acknowledged[id] = true
		}
		if len(acknowledged) == before {
			t.Fatalf("kill %d: the child saved nothing", n)
		}
		checkSurvivors(t, open(t), p, acknowledged)
	}
	t.Logf("%d checks were acknowledged and are there after %d kills", len(acknowledged), times)
}

// runChild runs a child until some while after its first save, kills it, and gives what it acknowledged.
func runChild(t *testing.T, told string, killServer func()) (ids []tracker.RecordID) {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), childVariable+"="+told)
	var said lockedBuffer
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	must(t, cmd.Start())
	first := make(chan struct{})
	var reading sync.WaitGroup
	reading.Go(func() {
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadString('\n')
			if err != nil { // a line cut short was not acknowledged
				break
			}
			if ids = append(ids, tracker.RecordID(line[:len(line)-1])); len(ids) == 1 {
				close(first)
			}
		}
		if len(ids) == 0 {
			close(first)
		}
	})
	<-first
	time.Sleep(rand.N(200 * time.Millisecond))
	if killServer != nil {
		killServer()
	}
	must(t, cmd.Process.Kill())
	reading.Wait()
	_ = cmd.Wait() // killed
	if len(ids) == 0 {
		t.Fatalf("the child saved nothing: %s", said.String())
	}
	return ids
}

// checkSurvivors requires each acknowledged check, and no check or event without the other.
func checkSurvivors(t *testing.T, db *store.DB, p Place, acknowledged map[tracker.RecordID]bool) {
	t.Helper()
	must(t, db.Read(t.Context(), p.Yard.ID, func(tx care.Tx) error {
		checks, err := tx.Checks(care.CheckQuery{})
		if err != nil {
			return err
		}
		events, err := tx.Events("", 1)
		have := map[tracker.RecordID]int{}
		for _, c := range checks {
			have[c.ID]++
		}
		for id := range acknowledged {
			if have[id] != 1 {
				t.Errorf("check %s was acknowledged and is gone", id)
			}
		}
		for _, e := range events {
			have[tracker.RecordID(e.Note)]--
		}
		for id, n := range have {
			if n != 0 {
				t.Errorf("half of the save of check %s is there", id)
			}
		}
		return err
	}))
	must(t, db.Close())
}

// lockedBuffer gathers what a child says while somebody else may read it.
type lockedBuffer struct {
	mu   sync.Mutex
	text []byte
}

var _ io.Writer = (*lockedBuffer)(nil)

// Write adds to the text.
func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.text = append(b.text, p...)
	return len(p), nil
}

// String gives the text so far.
func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return string(b.text)
}
