package store_test

import (
	"testing"

	"leground/tracker/store/storetest"
)

func TestPostgreSQL(t *testing.T) { storetest.Run(t, newPostgres) }
