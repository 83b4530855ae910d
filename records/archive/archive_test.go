package archive_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"handback/records/archive"
	"handback/testdata/archives"
)

var (
	ctx = context.Background()
	now = time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
)

// A SQLite file is held to what every engine is.
func TestConform(t *testing.T) {
	archives.Conform(t, func(tb archives.TB) *archive.Archive { return empty(t, tb) })
}

// A program without a driver for buckets says so, and makes nothing.
func TestCreateWith_noDriver(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	if _, err := archive.CreateWith(ctx, dir, "https://owner.test/bags", nil, now); !errors.Is(err, archive.ErrNoBucket) {
		t.Error(err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("something was made")
	}
}

// empty makes an archive that is gone after the test.
func empty(t *testing.T, tb archives.TB) *archive.Archive {
	tb.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "a")
	if err != nil {
		tb.Fatal(err)
	}
	a, err := archive.Create(ctx, filepath.Join(dir, "archive"), nil, now)
	if err != nil {
		tb.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	return a
}
