package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/urfave/cli/v3"

	"leground/server"
	"leground/testdata/seed"
)

// demoCommand opens the made-up yard.
func demoCommand() *cli.Command {
	return &cli.Command{
		Name: "demo", Usage: "open Marlpit Yard, a made-up yard with 29 days of looks, in a fresh folder",
		Flags: append(flags(append([]string{"listen"}, mailFlags...)...),
			&cli.StringFlag{Name: "now", Usage: "instant at which the demonstration's clock starts, like 2026-10-24T22:00:00Z; empty: now"},
			&cli.StringFlag{Name: "data", Usage: "folder that does not exist yet; empty: a fresh one among the temporary files"},
			&cli.IntFlag{Name: "speed", Usage: "how many times faster than a real clock its clock runs", Value: 1},
		),
		Action: demo,
	}
}

// demoClock is the clock of the demonstration: it starts where it is told and then runs on.
type demoClock struct {
	start   time.Time
	running atomic.Pointer[time.Time] // the real instant at which it began to run; nil: set by hand
	set     atomic.Pointer[time.Time]
	speed   int
}

// Now gives the demonstration's time.
func (c *demoClock) Now() time.Time {
	if since := c.running.Load(); since != nil {
		return c.start.Add(time.Since(*since) * time.Duration(c.speed))
	}
	return *c.set.Load()
}

// Set puts the clock by hand, while the yard's past is played.
func (c *demoClock) Set(t time.Time) { c.set.Store(&t) }

// Run lets it go on from its start.
func (c *demoClock) Run() {
	now := time.Now()
	c.running.Store(&now)
}

func demo(ctx context.Context, cmd *cli.Command) error {
	if err := noMore(cmd, 0); err != nil {
		return err
	}
	clock := &demoClock{start: time.Now(), speed: cmd.Int("speed")}
	if clock.speed < 1 {
		return cli.Exit(fmt.Sprintf("-speed %d would stop the clock or turn it back: it must be a whole number from 1 on", clock.speed), 2)
	}
	if text := cmd.String("now"); text != "" {
		start, err := time.Parse(time.RFC3339, text)
		if err != nil {
			return cli.Exit(fmt.Sprintf("-now %q is not an instant like 2026-10-24T22:00:00Z", text), 2)
		}
		clock.start = start
	}
	clock.Set(clock.start)
	folder, err := freshFolder(cmd.String("data"))
	if err != nil {
		return err
	}
	in := server.Settings{Where: folder, Listen: cmd.String("listen"), Now: clock.Now, Log: slog.New(slog.NewJSONHandler(io.Discard, nil))}
	if in.Mail, err = mailSettings(cmd); err != nil {
		return cli.Exit(err.Error(), 2)
	}
	if !cmd.IsSet("listen") {
		in.Listen = freeAddress(in.Listen)
	}
	in.Base = "http://" + in.Listen
	srv, err := server.New(ctx, in)
	if err != nil {
		return err
	}
	return runDemo(ctx, cmd.Root().Writer, srv, clock, folder)
}

func runDemo(ctx context.Context, out io.Writer, srv *server.Server, clock *demoClock, folder string) error {
	actor, err := seed.Marlpit(ctx, srv.Care, clock.Set, clock.start)
	if err != nil {
		srv.Stop()
		return fmt.Errorf("the made-up yard could not be made: %w", err)
	}
	clock.Run()
	token, err := srv.Care.SignInLinkFor(ctx, actor)
	if err != nil {
		srv.Stop()
		return err
	}
	if err := srv.Start(); err != nil {
		srv.Stop()
		return err
	}
	view, err := srv.Care.Board(ctx, actor)
	if err != nil {
		srv.Stop()
		return err
	}
	printBoard(out, view)
	fmt.Fprintf(out, "\nThe site of this made-up yard runs at http://%s\nSign in as Ada with this link:\nhttp://%s/link/%s\n\nIts records are in %s. Stop with Ctrl-C.\n",
		srv.Address(), srv.Address(), token, folder)
	return untilStopped(ctx, srv)
}

// freshFolder makes the folder of the made-up yard. It never opens one that has something in it, so that
// made-up records cannot mix with real ones.
func freshFolder(name string) (string, error) {
	if name == "" {
		return os.MkdirTemp("", "marlpit-yard-")
	}
	if entries, err := os.ReadDir(name); err == nil && len(entries) > 0 {
		return "", fmt.Errorf("%s is not empty: name a folder that does not exist yet", name)
	}
	return filepath.Abs(name)
}
