// Package bucket lets the bags of an archive lie in a bucket of a server that speaks the S3
// protocol. A program that imports it knows URLs of buckets; what is kept there under which
// key stands in package archive.
//
// The server must honour If-None-Match when something is put, so that nothing is ever
// written over. Whoever may put, get and list may add and look; to redact, versions must be
// listed and deleted too.
package bucket

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"handback/records/archive"
)

var _ = archive.RegisterBucket(open)

// attempts is how often a request is made before the server is said to be away (our
// choice: about two seconds where nobody listens).
const attempts = 4

type objects struct {
	said   string // the URL
	core   *minio.Core
	bucket string
	begin  string // of all keys: "" or a name with a slash
}

// open knows a bucket by its URL. Nothing is asked of the server yet.
func open(text string) (archive.Objects, error) {
	u, bucket, begin, err := parse(text)
	if err != nil {
		if u != nil {
			text = u.Redacted()
		}
		return nil, fmt.Errorf("bucket %.200s: %w", text, err)
	}
	core, err := minio.NewCore(u.Host, &minio.Options{
		Creds:      credentials.NewChainCredentials([]credentials.Provider{&credentials.EnvAWS{}, &credentials.FileAWSCredentials{}}),
		Secure:     u.Scheme == "https",
		Region:     u.Query().Get("region"), // where it is not given the server is asked for it
		MaxRetries: attempts,
	})
	if err != nil {
		return nil, fmt.Errorf("bucket %.200s: %w", text, err)
	}
	return &objects{said: text, core: core, bucket: bucket, begin: begin}, nil
}

// parse takes https://HOST/BUCKET/NAME?region=REGION apart, of which the name and the region
// may be missing.
func parse(text string) (u *url.URL, bucket, begin string, err error) {
	u, err = url.Parse(text)
	if err != nil {
		return nil, "", "", errors.New("it is no URL such as https://HOST/BUCKET")
	}
	bucket, begin, _ = strings.Cut(strings.Trim(u.Path, "/"), "/")
	asked := u.Query()
	asked.Del("region")
	switch {
	case u.User != nil:
		err = errors.New("leave out user and password: credentials are taken from the environment or from a file")
	case u.Scheme != "https" && !(u.Scheme == "http" && local(u.Hostname())):
		err = errors.New("a URL that begins with https:// is wanted; http:// goes to this machine alone, so that nobody reads bags on their way")
	case u.Host == "" || bucket == "":
		err = errors.New("name the server and the bucket: https://HOST/BUCKET")
	case len(asked) > 0 || u.Fragment != "":
		err = errors.New("beside the bucket only ?region=REGION may be told")
	case begin != "":
		begin += "/"
	}
	return u, bucket, begin, err
}

func local(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (o *objects) Put(ctx context.Context, key string, file *os.File, sha256 string) error {
	info, err := file.Stat()
	if err != nil {
		return err
	}
	hash, err := hex.DecodeString(sha256)
	if err != nil {
		return err
	}
	// The hash is signed with the request, and kept by servers that keep one.
	how := minio.PutObjectOptions{ContentType: "application/zip", DisableContentSha256: true /* of parts: that of the whole is known */, UserMetadata: map[string]string{"X-Amz-Checksum-Sha256": base64.StdEncoding.EncodeToString(hash)}}
	how.SetMatchETagExcept("*")
	_, err = o.core.PutObject(ctx, o.bucket, o.begin+key, file, info.Size(), "", sha256, how)
	return o.inWords(err)
}

func (o *objects) Get(ctx context.Context, key string) (io.ReadCloser, error) {
	from, _, _, err := o.core.GetObject(ctx, o.bucket, o.begin+key, minio.GetObjectOptions{})
	if err != nil {
		return nil, o.inWords(err)
	}
	return reading{from, o}, nil
}

// reading is an object on its way: what stops it is the server or the way to it.
type reading struct {
	io.ReadCloser
	of *objects
}

func (r reading) Read(p []byte) (int, error) {
	n, err := r.ReadCloser.Read(p)
	if err != nil && err != io.EOF {
		err = r.of.away(err)
	}
	return n, err
}

func (o *objects) Keys(ctx context.Context, with string) iter.Seq2[string, error] {
	return func(yield func(string, error) bool) {
		for x := range o.core.ListObjectsIter(ctx, o.bucket, minio.ListObjectsOptions{Prefix: o.begin + with, Recursive: true}) {
			if !yield(strings.TrimPrefix(x.Key, o.begin), o.inWords(x.Err)) || x.Err != nil {
				return
			}
		}
	}
}

// Remove takes every version away: in a bucket that keeps them one that was deleted can
// still be read.
func (o *objects) Remove(ctx context.Context, key string) (was bool, err error) {
	for x := range o.core.ListObjectsIter(ctx, o.bucket, minio.ListObjectsOptions{Prefix: o.begin + key, Recursive: true, WithVersions: true}) {
		if x.Err == nil && x.Key != o.begin+key {
			continue
		}
		err := x.Err
		if err == nil {
			was = true
			err = o.core.RemoveObject(ctx, o.bucket, x.Key, minio.RemoveObjectOptions{VersionID: x.VersionID})
		}
		if err != nil {
			return was, o.inWords(err)
		}
	}
	return was, nil
}

// inWords puts what the server reports into plain words.
func (o *objects) inWords(err error) error {
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	say := func(kind error, words string) error {
		return fmt.Errorf("bucket %s: %w: %s: %w", o.said, kind, words, err)
	}
	var is minio.ErrorResponse
	if !errors.As(err, &is) {
		return o.away(err) // it came from no server
	}
	switch {
	case is.Code == minio.NoSuchBucket:
		return fmt.Errorf("bucket %s: there is none; whoever runs the server makes it: %w", o.said, err)
	case is.StatusCode == http.StatusNotFound:
		return say(fs.ErrNotExist, "no object")
	case is.StatusCode == http.StatusPreconditionFailed:
		return say(fs.ErrExist, "an object")
	case is.StatusCode == http.StatusConflict:
		return say(archive.ErrBusy, "others add to it; repeat")
	case is.StatusCode == http.StatusUnauthorized, is.StatusCode == http.StatusForbidden:
		return say(archive.ErrDenied, "look at the credentials, AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment or those in ~/.aws/credentials, and ask whoever runs the server for the right to do this")
	case is.StatusCode == http.StatusInsufficientStorage:
		return say(archive.ErrFull, "the server has no room, nothing of this was taken; make room and repeat")
	case is.StatusCode >= http.StatusInternalServerError, is.StatusCode == http.StatusTooManyRequests, is.StatusCode == http.StatusRequestTimeout:
		return o.away(err)
	}
	return fmt.Errorf("bucket %s: %w", o.said, err)
}

func (o *objects) away(err error) error {
	return fmt.Errorf("bucket %s: %w: %s: %w", o.said, archive.ErrAway, archive.Again, err)
}
