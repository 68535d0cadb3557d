package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"strconv"
	"strings"

	"github.com/urfave/cli/v3"
	"golang.org/x/crypto/acme"

	"leground/notify/email"
)

// setting is one thing that can be configured: by a flag, by LEGROUND_NAME in the environment, or, for a
// secret, by a file named in LEGROUND_NAME_FILE.
type setting struct {
	flag, usage, start string
	secret             bool
}

// settings lists them all, for every command that opens the yard's data.
var settings = []setting{
	{"data", "folder in which the records are kept", "leground-data", false},
	{"database-url", "PostgreSQL address to keep the records in, in place of a folder: postgres://...", "", true},
	{"listen", "address to serve on", "127.0.0.1:8400", false},
	{"base-url", "address under which people reach the site, for links in messages: https://yard.example", "", false},
	{"proxy-hops", "how many trusted proxies stand in front", "0", false},
	{"tls", "off (plain http, or a proxy in front has the certificate), or yard: with the certificate that leground certificate made", "off", false},
	{"tls-domain", "this machine's name on the internet, like yard.example: its certificate comes and renews itself, and the authority's terms are agreed to", "", false},
	{"tls-authority", "address at which that certificate is asked for (ACME)", acme.LetsEncryptURL, false},
	{"plain-listen", "address on which plain http is sent on to https, like 0.0.0.0:80; empty: nowhere", "", false},
	{"phone-copy", "on, or off: phones keep no copy of the pages for when there is no signal, and put away the one they have; what they have not sent stays", "on", false},
	{"metrics-listen", "address to answer /metrics on, like 127.0.0.1:8401; empty: nowhere", "", false},
	{"allow-addresses", "private addresses that messages to web addresses and phones may go to all the same, like 10.1.0.0/16,fd00::/8; empty: none", "", false},
	{"smtp-host", "mail server; without one no mail is sent", "", false},
	{"smtp-port", "its port", "465", false},
	{"smtp-security", "tls (from the first byte), starttls, or none (a relay on this machine, no sign-in)", "tls", false},
	{"smtp-user", "user name for the mail server; empty: no sign-in", "", false},
	{"smtp-password", "its password", "", true},
	{"smtp-from", "sender's address", "", false},
	{"smtp-token-url", "https address where the mail provider gives tokens (OAuth 2), in place of a password; empty: none", "", false},
	{"smtp-token-client", "our client id there", "", false},
	{"smtp-token-secret", "our client secret there; empty: none", "", true},
	{"smtp-token-refresh", "refresh token that the account's owner gave us there", "", true},
}

// environment gives the name of a setting in the environment.
func (s setting) environment() string {
	return "LEGROUND_" + strings.ToUpper(strings.ReplaceAll(s.flag, "-", "_"))
}

// flags makes a flag of each setting that is named.
func flags(names ...string) []cli.Flag {
	var out []cli.Flag
	for _, s := range settings {
		for _, name := range names {
			if s.flag == name {
				out = append(out, &cli.StringFlag{Name: s.flag, Usage: s.usage, Value: s.start, Sources: cli.EnvVars(s.environment())})
			}
		}
	}
	return out
}

func allFlags() []cli.Flag {
	names := make([]string, len(settings))
	for i, s := range settings {
		names[i] = s.flag
	}
	return flags(names...)
}

// value gives a setting: the flag or environment variable, or what stands in the file that the variable
// with _FILE names.
func value(cmd *cli.Command, name string) (string, error) {
	for _, s := range settings {
		if s.flag != name {
			continue
		}
		file := os.Getenv(s.environment() + "_FILE")
		if file == "" || cmd.IsSet(name) {
			return cmd.String(name), nil
		}
		text, err := os.ReadFile(file)
		if err != nil {
			return "", fmt.Errorf("%s_FILE: %w", s.environment(), err)
		}
		return strings.TrimRight(string(text), "\r\n"), nil
	}
	return "", fmt.Errorf("there is no setting %q", name)
}

// values reads several settings at once.
func values(cmd *cli.Command, names ...string) (map[string]string, error) {
	out := map[string]string{}
	var problems []error
	for _, name := range names {
		v, err := value(cmd, name)
		out[name] = v
		problems = append(problems, err)
	}
	return out, errors.Join(problems...)
}

// place gives where the records are: a folder, or a PostgreSQL address. Anything else that stands for an address would
// be taken for the name of a folder, and an empty yard be served from there.
func place(v map[string]string) (string, error) {
	where := v["database-url"]
	if where == "" {
		return v["data"], nil
	}
	if !strings.HasPrefix(where, "postgres://") && !strings.HasPrefix(where, "postgresql://") {
		return "", cli.Exit("database-url must be a PostgreSQL address, like postgres://leground@localhost/leground; for a folder use data", 2)
	}
	return where, nil
}

// siteAddress reads the address under which people reach the site, which stands in front of links.
func siteAddress(text string) (string, error) {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" || u.User != nil || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.Fragment != "" {
		return "", cli.Exit(fmt.Sprintf("base-url %q is not the address of a site: it must be like https://yard.example, with nothing after the name", text), 2)
	}
	return u.Scheme + "://" + u.Host, nil
}

// mailFlags name the settings of the mail account.
var mailFlags = strings.Fields("smtp-host smtp-port smtp-security smtp-user smtp-password smtp-from smtp-token-url smtp-token-client smtp-token-secret smtp-token-refresh")

// mailSettings reads the mail account; nil when no mail server is named.
func mailSettings(cmd *cli.Command) (*email.Settings, error) {
	v, err := values(cmd, mailFlags...)
	if err != nil {
		return nil, err
	}
	port, err := strconv.Atoi(v["smtp-port"])
	if err != nil || port < 1 || port > 65535 {
		return nil, errors.New("smtp-port must be a number from 1 to 65535, like 465")
	}
	if v["smtp-host"] == "" {
		return nil, nil
	}
	in := &email.Settings{Host: v["smtp-host"], Port: port, User: v["smtp-user"], Password: v["smtp-password"], From: v["smtp-from"], SignIn: email.NoSignIn}
	if in.User != "" {
		in.SignIn = email.Password
	}
	if v["smtp-token-url"] != "" {
		in.SignIn = email.Bearer
		in.Grant = &email.Grant{Address: v["smtp-token-url"], Client: v["smtp-token-client"], Secret: v["smtp-token-secret"], Refresh: v["smtp-token-refresh"]}
	}
	switch v["smtp-security"] {
	case "tls":
		in.Security = email.ImplicitTLS
	case "starttls":
		in.Security = email.StartTLS
	case "none":
		in.Security = email.NoTLS
	}
	return in, in.Check()
}

// configCommand prints every setting as it is now, without secrets.
func configCommand() *cli.Command {
	return &cli.Command{
		Name: "config", Usage: "print every setting and where it comes from, without secrets", Flags: allFlags(),
		Action: func(_ context.Context, cmd *cli.Command) error {
			if err := noMore(cmd, 0); err != nil {
				return err
			}
			return printConfig(cmd, cmd.Root().Writer)
		},
	}
}

func printConfig(cmd *cli.Command, w io.Writer) error {
	for _, s := range settings {
		v, err := value(cmd, s.flag)
		if err != nil {
			return err
		}
		if s.secret && v != "" {
			v = "(set, not shown)"
		}
		fmt.Fprintf(w, "%-16s %-28s %s\n", s.flag, s.environment(), v)
	}
	return nil
}
