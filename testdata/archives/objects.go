package archives

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// accessKey is the one that a bucket of a test lets in.
const accessKey = "OWNERS-KEY"

// Objects is a server of objects on this machine with one bucket, which lasts as long as a
// test. Its protocol is by another hand; that whoever asks is known, and that what is put
// has the hash it was signed with, is looked at here.
type Objects struct {
	t      *testing.T
	memory *s3mem.Backend
	api    http.Handler
	server *httptest.Server
	lock   sync.Mutex
	lets   int // so many objects are put, then the server is gone; negative: all
}

const bucketName = "owner-bags"

// NewObjects starts a server, and puts what it wants to know in the environment.
func NewObjects(t *testing.T) *Objects {
	t.Helper()
	t.Setenv("AWS_ACCESS_KEY_ID", accessKey)
	t.Setenv("AWS_SECRET_ACCESS_KEY", "secret of a test")
	for _, file := range []string{"AWS_SHARED_CREDENTIALS_FILE", "AWS_CONFIG_FILE"} {
		t.Setenv(file, filepath.Join(t.TempDir(), "none"))
	}
	o := &Objects{t: t, memory: s3mem.New(), lets: -1}
	o.api = gofakes3.New(o.memory, gofakes3.WithLogger(gofakes3.DiscardLog())).Server()
	if err := o.memory.CreateBucket(bucketName); err != nil {
		t.Fatal(err)
	}
	o.listen("127.0.0.1:0")
	t.Cleanup(func() { o.server.Close() })
	return o
}

func (o *Objects) listen(at string) {
	o.t.Helper()
	l, err := net.Listen("tcp", at)
	if err != nil {
		o.t.Fatal(err)
	}
	o.server = &httptest.Server{Listener: l, Config: &http.Server{Handler: http.HandlerFunc(o.serve)}}
	o.server.Start()
}

// URL is that of the bucket, with what all names in it begin with.
func (o *Objects) URL(begin string) string {
	return fmt.Sprintf("http://%s/%s/%s?region=eu-north-1", o.server.Listener.Addr(), bucketName, begin)
}

// LoseAfter has the server vanish when so many objects were put more, before it answers
// the last of them: that one is there, and nobody was told.
func (o *Objects) LoseAfter(objects int) {
	o.lock.Lock()
	defer o.lock.Unlock()
	o.lets = objects
}

// Return has the server answer again, where it was.
func (o *Objects) Return() {
	o.t.Helper()
	at := o.server.Listener.Addr().String()
	o.server.Close()
	o.LoseAfter(-1)
	o.listen(at)
}

// Versioned has the bucket keep what was deleted.
func (o *Objects) Versioned() {
	o.t.Helper()
	if err := o.memory.SetVersioningConfiguration(bucketName, gofakes3.VersioningConfiguration{Status: gofakes3.VersioningEnabled}); err != nil {
		o.t.Fatal(err)
	}
}

// Keys are the keys of all objects, and those of versions that were deleted or written over.
func (o *Objects) Keys() (now, all []string) {
	o.t.Helper()
	list, err := o.memory.ListBucket(bucketName, nil, gofakes3.ListBucketPage{})
	if err != nil {
		o.t.Fatal(err)
	}
	for _, x := range list.Contents {
		now = append(now, x.Key)
	}
	versions, err := o.memory.ListBucketVersions(bucketName, nil, nil)
	if err != nil {
		o.t.Fatal(err)
	}
	for _, x := range versions.Versions {
		if v, ok := x.(*gofakes3.Version); ok {
			all = append(all, v.Key)
		}
	}
	return now, all
}

// Set has the owner of the server put something under a key, whatever is there.
func (o *Objects) Set(key, content string) {
	o.t.Helper()
	if _, err := o.memory.PutObject(bucketName, key, map[string]string{"Last-Modified": "Wed, 01 Jul 2026 12:00:00 GMT"}, strings.NewReader(content), int64(len(content)), nil); err != nil {
		o.t.Fatal(err)
	}
}

// Delete has the owner of the server delete an object.
func (o *Objects) Delete(key string) {
	o.t.Helper()
	if _, err := o.memory.DeleteObject(bucketName, key); err != nil {
		o.t.Fatal(err)
	}
}

func (o *Objects) serve(w http.ResponseWriter, r *http.Request) {
	refuse := func(status int, code string) {
		w.WriteHeader(status)
		fmt.Fprintf(w, "<Error><Code>%s</Code><Message>%s</Message></Error>", code, code)
	}
	if !strings.Contains(r.Header.Get("Authorization"), "Credential="+accessKey+"/") {
		refuse(http.StatusForbidden, "InvalidAccessKeyId")
		return
	}
	o.lock.Lock()
	defer o.lock.Unlock()
	if o.lets == 0 {
		panic(http.ErrAbortHandler) // the connection breaks
	}
	if r.Method != http.MethodPut {
		o.api.ServeHTTP(w, r)
		return
	}
	body, err := io.ReadAll(r.Body)
	if sum := sha256.Sum256(body); err != nil || r.Header.Get("X-Amz-Content-Sha256") != hex.EncodeToString(sum[:]) {
		refuse(http.StatusBadRequest, "XAmzContentSHA256Mismatch")
		return
	} else if r.Header.Get("X-Amz-Checksum-Sha256") != base64.StdEncoding.EncodeToString(sum[:]) {
		refuse(http.StatusBadRequest, "BadDigest")
		return
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	if o.lets > 0 {
		o.lets--
	}
	if o.lets == 0 {
		o.api.ServeHTTP(httptest.NewRecorder(), r)
		panic(http.ErrAbortHandler)
	}
	o.api.ServeHTTP(w, r)
}
