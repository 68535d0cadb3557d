package main

import (
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"net"
	"net/http"
	"strings"
	"time"

	"rsc.io/qr"
)

// trustPage is what a phone opens once: the authority to take in, its fingerprint, and the steps.
//
//go:embed trust.html
var trustPage string

// trust fills the page.
type trust struct {
	Site        string
	Fingerprint string
	Until       string
}

// showTrustPage prints a code for a phone's camera and shows the page until the person stops it. The page is
// plain http: a phone that does not trust the authority yet can open nothing else. What keeps it honest is
// the fingerprint, which is printed here and compared on the phone.
func showTrustPage(ctx context.Context, out io.Writer, c yardCertificates, address, site string) error {
	authority, err := c.load("authority")
	if err != nil {
		return err
	}
	about := trust{Site: site, Fingerprint: fingerprint(authority.Leaf.Raw), Until: authority.Leaf.NotAfter.Format("2 January 2006")}
	fmt.Fprintf(out, "Fingerprint of the yard's authority (SHA-256):\n  %s\n", about.Fingerprint)
	if address == "" {
		fmt.Fprintln(out, "To show the page for phones, add -page ADDRESS:8401.")
		return nil
	}
	handler, err := trustHandler(about, authority.Leaf.Raw)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return fmt.Errorf("cannot show the page on %s: %w", address, err)
	}
	page := "http://" + listener.Addr().String() + "/"
	code, err := qr.Encode(page, qr.M)
	if err != nil {
		listener.Close()
		return err
	}
	fmt.Fprintf(out, "Open this on each phone, in the yard's own network: %s\n%s\nStop with Ctrl-C when every phone has it.\n", page, blocks(code))
	srv := &http.Server{Handler: handler, ReadHeaderTimeout: 10 * time.Second, WriteTimeout: time.Minute}
	go func() {
		<-ctx.Done()
		srv.Close()
	}()
	if err := srv.Serve(listener); err != http.ErrServerClosed {
		return err
	}
	return nil
}

// trustHandler serves the page, the authority's certificate and the code that leads to the site.
func trustHandler(about trust, authority []byte) (http.Handler, error) {
	page, err := template.New("trust").Parse(trustPage)
	if err != nil {
		return nil, err
	}
	code, err := qr.Encode(about.Site, qr.M)
	if err != nil {
		return nil, err
	}
	picture := code.PNG()
	mux := http.NewServeMux()
	send := func(path, kind string, data []byte) {
		mux.HandleFunc("GET "+path, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.Write(data) // the phone has gone if this fails
		})
	}
	send("/yard-authority.crt", "application/x-x509-ca-cert", authority)
	send("/site.png", "image/png", picture)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		page.Execute(w, about) // the phone has gone if this fails
	})
	return mux, nil
}

// blocks draws a code with half blocks, dark on light, with the margin that cameras need.
func blocks(code *qr.Code) string {
	var out strings.Builder
	for y := -4; y < code.Size+4; y += 2 {
		out.WriteString("  ")
		for x := -4; x < code.Size+4; x++ {
			switch upper, lower := code.Black(x, y), code.Black(x, y+1); {
			case upper && lower:
				out.WriteRune(' ')
			case upper:
				out.WriteRune('▄')
			case lower:
				out.WriteRune('▀')
			default:
				out.WriteRune('█')
			}
		}
		out.WriteByte('\n')
	}
	return out.String()
}
