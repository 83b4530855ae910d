package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path"
	"strings"
	"sync"
)

// Objects is a bucket on a server of objects, each kept under a key. What goes wrong there
// is reported as one of the errors of this package, in plain words, but for those named.
type Objects interface {
	// Put keeps a file under a key that nothing is kept under. The server holds what came
	// against its SHA-256.
	//
	// Errors: fs.ErrExist.
	Put(ctx context.Context, key string, file *os.File, sha256 string) error
	// Get reads what is kept under a key; reading may fail likewise.
	//
	// Errors: fs.ErrNotExist.
	Get(ctx context.Context, key string) (io.ReadCloser, error)
	// Keys are those that begin with something.
	Keys(ctx context.Context, with string) iter.Seq2[string, error]
	// Remove takes away what is kept under a key, with all that was kept under it before.
	Remove(ctx context.Context, key string) (was bool, err error)
}

var openBucket func(url string) (Objects, error) // nil where the program knows none

// RegisterBucket makes buckets known by their URLs, which name what all keys begin with.
func RegisterBucket(open func(url string) (Objects, error)) bool {
	openBucket = open
	return true
}

// ErrNoBucket says that this build of the program does not know buckets.
var ErrNoBucket = errors.New("this build reads and keeps no bags in a bucket")

// bucket keeps each bag as an object that is named by its own SHA-256, as a folder names
// its files. An object is brought there before the transaction that tells of it ends.
type bucket struct {
	scratch
	url   string
	reach func() (Objects, error) // once: much is found without looking into a bag
}

func newBucket(url string) *bucket {
	return &bucket{url: url, reach: sync.OnceValues(func() (Objects, error) {
		if openBucket == nil {
			return nil, fmt.Errorf("bucket %s: %w; one that does is built with: go build -tags %s ./cmd/handback", url, ErrNoBucket, "postgres")
		}
		return openBucket(url)
	})}
}

// Bucket is the URL of the bucket that the bags of the archive lie in, "" where they lie
// beside its rows.
func (a *Archive) Bucket() string {
	if b, ok := a.bags.(*bucket); ok {
		return b.url
	}
	return ""
}

// findBucket finds where the bags of an archive lie that has the table for it.
func (a *Archive) findBucket(ctx context.Context) error {
	said, err := list[elsewhere](ctx, a.db, buckets, "ORDER BY number DESC LIMIT 1")
	if err == nil && len(said) == 0 {
		err = fmt.Errorf("archive %s: %w: its table buckets does not say where the bags lie", a.path, ErrDamaged)
	}
	if err == nil {
		a.bags = newBucket(said[0].URL)
	}
	return err
}

// KnowsBucket tells why nothing can be kept in a bucket by its URL; the server is not asked.
func KnowsBucket(url string) error {
	_, err := newBucket(url).reach()
	return err
}

// unused tells why a bucket cannot be that of a new archive: another one's bags must not be
// taken for strays of this, nor go with what this removes.
func (b *bucket) unused(ctx context.Context) error {
	o, err := b.reach()
	if err != nil {
		return err
	}
	for key, err := range o.Keys(ctx, "") {
		if err == nil {
			err = fmt.Errorf("%w: %s holds objects, such as %.80q; name a bucket without any, or a beginning of names that none has: %s", ErrExists, b.url, key, b.called("NAME"))
		}
		return err
	}
	return nil
}

// called is what an object is called.
func (b *bucket) called(key string) string {
	at, _, _ := strings.Cut(b.url, "?")
	return strings.TrimSuffix(at, "/") + "/" + key
}

func objectKey(in, hash string) string { return path.Join(in, hash[:2], hash+".zip") }

// uploads is how many objects are brought to a bucket at once (our choice: each waits for
// the server most of its time).
const uploads = 8

func (b *bucket) keep(ctx context.Context, _ *txn, all ...placed) error {
	o, err := b.reach()
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ended, gate := make(chan error, len(all)), make(chan struct{}, uploads)
	for _, c := range all {
		go func() {
			gate <- struct{}{}
			ended <- b.put(ctx, o, c)
			<-gate
		}()
	}
	for range all {
		if failed := <-ended; failed != nil && err == nil {
			err = failed
			stop() // the others; what is there already is in nobody's way
		}
	}
	return err
}

func (b *bucket) put(ctx context.Context, o Objects, c placed) error {
	f, err := os.Open(c.Path)
	if err != nil {
		return err
	}
	defer f.Close()
	err = o.Put(ctx, objectKey(c.in, c.SHA256), f, c.SHA256)
	if !errors.Is(err, fs.ErrExist) {
		return err
	}
	// Left by a killed program, or its answer was lost: it is never written over.
	there, err := b.get(ctx, c.in, c.SHA256)
	b.release(there)
	return err
}

// get copies an object, hashing what comes.
func (b *bucket) get(ctx context.Context, in, hash string) (string, error) {
	o, err := b.reach()
	if err != nil {
		return "", err
	}
	return b.copy(func(w io.Writer) error {
		from, err := o.Get(ctx, objectKey(in, hash))
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%w: the bag with the SHA-256 %s is not there as %s", ErrDamaged, hash, b.called(objectKey(in, hash)))
		}
		if err != nil {
			return err
		}
		defer from.Close()
		is := sha256.New()
		if _, err := io.Copy(io.MultiWriter(w, is), from); err != nil {
			return err
		}
		if got := hex.EncodeToString(is.Sum(nil)); got != hash {
			return fmt.Errorf("%w: %s was changed: its SHA-256 is %s", ErrDamaged, b.called(objectKey(in, hash)), got)
		}
		return nil
	})
}

func (b *bucket) remove(ctx context.Context, hash string) (bool, error) {
	o, err := b.reach()
	if err != nil {
		return false, err
	}
	return o.Remove(ctx, objectKey(takenIn, hash))
}

func (b *bucket) all(ctx context.Context, in string) iter.Seq2[filed, error] {
	return func(yield func(filed, error) bool) {
		o, err := b.reach()
		if err != nil {
			yield(filed{}, err)
			return
		}
		for key, err := range o.Keys(ctx, in+"/") {
			if !yield(filed{strings.TrimSuffix(path.Base(key), ".zip"), b.called(key)}, err) {
				return
			}
		}
	}
}
