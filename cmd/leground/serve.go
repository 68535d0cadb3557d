package main

import (
	"context"
	"fmt"
	"log/slog"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v3"

	"leground/server"
)

// serveCommand runs a yard for real.
func serveCommand() *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "serve the site and send the reminders", Flags: allFlags(),
		Action: func(ctx context.Context, cmd *cli.Command) error {
			if err := noMore(cmd, 0); err != nil {
				return err
			}
			in, err := serverSettings(cmd)
			if err != nil {
				return err
			}
			in.Now = time.Now
			return serve(ctx, cmd, in)
		},
	}
}

// serverSettings reads what every running server needs.
func serverSettings(cmd *cli.Command) (server.Settings, error) {
	v, err := values(cmd, "data", "database-url", "listen", "base-url", "proxy-hops", "phone-copy", "tls", "tls-domain", "tls-authority", "plain-listen", "metrics-listen", "allow-addresses")
	if err != nil {
		return server.Settings{}, err
	}
	in := server.Settings{Listen: v["listen"], MetricsListen: v["metrics-listen"],
		Log: slog.New(slog.NewJSONHandler(os.Stderr, nil)), LogTime: time.Now}
	if in.Where, err = place(v); err != nil {
		return in, err
	}
	if v["base-url"] != "" {
		if in.Base, err = siteAddress(v["base-url"]); err != nil {
			return in, err
		}
	}
	if in.ProxyHops, err = strconv.Atoi(v["proxy-hops"]); err != nil || in.ProxyHops < 0 {
		return in, cli.Exit("proxy-hops must be a whole number, like 0 or 1", 2)
	}
	if err := setTLS(&in, v); err != nil {
		return in, err
	}
	in.Kept = filepath.Join(v["data"], "assets")
	switch v["phone-copy"] {
	case "on":
	case "off":
		in.NoCopy = true
	default:
		return in, cli.Exit("phone-copy must be on or off", 2)
	}
	if in.Guard.Allow, err = ranges(v["allow-addresses"]); err != nil {
		return in, cli.Exit(err.Error(), 2)
	}
	if in.Mail, err = mailSettings(cmd); err != nil {
		return in, cli.Exit(err.Error(), 2)
	}
	if in.Base == "" {
		in.Base = "http://" + in.Listen
		if in.TLS != nil {
			in.Base = "https://" + in.Listen
		}
	}
	return in, nil
}

// ranges reads which private addresses messages may go to.
func ranges(text string) (out []netip.Prefix, err error) {
	for part := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == ' ' }) {
		prefix, err := netip.ParsePrefix(part)
		if err != nil {
			return nil, fmt.Errorf("allow-addresses: %q is not a range of addresses like 10.1.0.0/16", part)
		}
		out = append(out, prefix)
	}
	return out, nil
}

func serve(ctx context.Context, cmd *cli.Command, in server.Settings) error {
	srv, err := server.New(ctx, in)
	if err != nil {
		return err
	}
	if err := srv.Start(); err != nil {
		srv.Stop()
		return err
	}
	out := cmd.Root().Writer
	fmt.Fprintf(out, "Leground is running at %s\n", in.Base)
	token, err := srv.Care.FirstLink(ctx)
	if ctx.Err() != nil { // told to stop while starting
		return srv.Stop()
	} else if err != nil {
		srv.Stop()
		return err
	}
	if token != "" {
		fmt.Fprintf(out, "There is no yard yet. Open this once, within seven days, to make it and become its owner:\n%s/link/%s\n", in.Base, token)
	}
	if in.Mail == nil {
		fmt.Fprintln(out, "No mail server is set, so nobody is reminded by mail: see smtp-host.")
	}
	return untilStopped(ctx, srv)
}

// untilStopped waits for a signal or for the server to fail, then stops it in order.
func untilStopped(ctx context.Context, srv *server.Server) error {
	select {
	case <-ctx.Done():
		return srv.Stop()
	case err := <-srv.Failed():
		srv.Stop()
		return err
	}
}
