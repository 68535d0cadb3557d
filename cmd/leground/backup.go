package main

import (
	"context"
	"fmt"
	"time"

	"github.com/urfave/cli/v3"

	"leground/server"
)

// backupCommand copies a yard's SQLite file while the program runs.
func backupCommand() *cli.Command {
	return &cli.Command{
		Name: "backup", Usage: "copy everything into one file, also while the site is running", ArgsUsage: "FILE", Flags: flags("data", "database-url"),
		Action: func(ctx context.Context, cmd *cli.Command) error {
			return withFile(cmd, func(data, file string) error {
				if err := server.Backup(ctx, data, file); err != nil {
					return err
				}
				if err := server.NoteBackup(ctx, data, time.Now()); err != nil {
					return fmt.Errorf("%s is a good copy, but that could not be noted: %w", file, err)
				}
				_, err := fmt.Fprintf(cmd.Root().Writer, "Everything is in %s, and the copy was read back.\n", file)
				return err
			})
		},
	}
}

// restoreCommand puts a copy back into an empty folder.
func restoreCommand() *cli.Command {
	return &cli.Command{
		Name: "restore", Usage: "check a copy and put it into a folder that has no records yet", ArgsUsage: "FILE", Flags: flags("data", "database-url"),
		Action: func(ctx context.Context, cmd *cli.Command) error {
			return withFile(cmd, func(data, file string) error {
				if err := server.Restore(ctx, file, data); err != nil {
					return err
				}
				_, err := fmt.Fprintf(cmd.Root().Writer, "The records of %s are in %s.\n", file, data)
				return err
			})
		},
	}
}

func withFile(cmd *cli.Command, do func(data, file string) error) error {
	if cmd.Args().Len() != 1 {
		return cli.Exit("name one file: leground "+cmd.Name+" FILE", 2)
	}
	v, err := values(cmd, "data", "database-url")
	if err != nil {
		return err
	}
	if where, err := place(v); err != nil {
		return err
	} else if where != v["data"] {
		return cli.Exit("PostgreSQL is copied by its own tools, pg_dump and pg_restore: see the README", 2)
	}
	return do(v["data"], cmd.Args().First())
}
