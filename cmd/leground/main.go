// Command leground keeps the leg rounds of a yard: it serves the site, sends the reminders, and answers
// the same questions on the command line for people with a spreadsheet.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // a bare machine without zone files must not silently run on UTC

	"github.com/urfave/cli/v3"
)

// version is set when a release is built.
const version = "0.1"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args))
}

// run runs the program and gives its exit code: 0, or 1 for a failure, 2 for bad input, 3 for a refusal.
func run(ctx context.Context, args []string) int {
	app := &cli.Command{
		Name:    "leground",
		Usage:   "the daily leg round of horses in care: looks, sizes, cautions, reminders",
		Version: version,
		Commands: []*cli.Command{
			serveCommand(), demoCommand(), backupCommand(), restoreCommand(), configCommand(), certificateCommand(),
			trendCommand(), mixCommand(), roundsCommand(),
		},
		ExitErrHandler: func(context.Context, *cli.Command, error) {},
		Action: func(_ context.Context, cmd *cli.Command) error {
			if cmd.Args().Present() {
				return cli.Exit(fmt.Sprintf("there is no command %q: see leground -help", cmd.Args().First()), 2)
			}
			return cli.ShowRootCommandHelp(cmd)
		},
		OnUsageError: badFlag,
	}
	for _, c := range app.Commands {
		if c.OnUsageError == nil {
			c.OnUsageError = badFlag
		}
	}
	err := app.Run(ctx, args)
	if err == nil {
		return 0
	}
	if text := err.Error(); text != "" {
		fmt.Fprintln(os.Stderr, "leground: "+text)
	}
	var coded cli.ExitCoder
	if errors.As(err, &coded) {
		return coded.ExitCode()
	}
	return 1
}

// badFlag is the answer to a flag that cannot be read.
func badFlag(_ context.Context, cmd *cli.Command, err error, _ bool) error {
	return cli.Exit(fmt.Sprintf("%v: see %s -help", err, cmd.FullName()), 2)
}

// noMore refuses arguments that a command does not take: a slip must not be passed over.
func noMore(cmd *cli.Command, takes int) error {
	if cmd.Args().Len() > takes {
		return cli.Exit(fmt.Sprintf("%q is one argument too many: see leground %s -help", cmd.Args().Get(takes), cmd.Name), 2)
	}
	return nil
}
