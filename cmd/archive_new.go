package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report/admit"
)

type archiveNewOptions struct {
	*archiveAt
	policy string
	key    string
	bags   string
	sql    bool
}

func newArchiveNew(at *archiveAt) *cobra.Command {
	o := &archiveNewOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "new", Short: "begin an archive", Args: exactly(),
		Long: `Begin an archive in a folder that is not there yet, or empty.

--policy FILE is what is asked of every bag before it is taken, a policy file of verify
with the files that it names; they are kept in the archive. Without one a bag must be
intact and its signatures must fit, by the keys that its own plan lists.
'archive policy' shows what is asked, and puts another policy in force later.

A key is made in it that signs the heads of its log (archive head): log-key, which only
you can read, and log-key.pub, which whoever checks a head needs. --key names an Ed25519
key that is kept elsewhere, by its key file or its public key file; then none is made,
and whoever gets at the archive cannot sign in its name.

In PostgreSQL (--archive postgres://...) the tables, their guards and two roles are made in
the schema that the connection works in: handback_add for whoever adds, handback_read for
whoever looks; grant them to those who log in. --sql prints what makes them instead, for
whoever may: have it run there, then repeat the command without --sql. --key is needed.

--bags https://HOST/BUCKET puts the bags, and those in quarantine, in a bucket of a server
that speaks the S3 protocol: https://HOST/BUCKET/NAME where others use the bucket too,
?region=REGION at the end where the server wants one. The bucket must be there, and nothing
in it under NAME. The archive remembers it; credentials are never kept: they are taken from
AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment, or from ~/.aws/credentials
(AWS_PROFILE). A bag is never written over there, and hashed each time it is read.`,
		Example: "  handback archive new --archive /srv/handback --policy intake.yaml\n  handback archive new --archive /srv/handback --bags https://objects.example.org/owner-bags",
		RunE:    taking(runArchiveNew, o),
	}
	c.Flags().StringVar(&o.policy, "policy", "", "file that says what is asked of every bag")
	c.Flags().StringVar(&o.key, "key", "", "file of the Ed25519 key that is to sign the heads of the log, instead of one made here")
	c.Flags().StringVar(&o.bags, "bags", "", "bucket that the bags are to lie in, https://HOST/BUCKET, instead of beside the index")
	c.Flags().BoolVar(&o.sql, "sql", false, "print the SQL that makes an archive in PostgreSQL, and do nothing")
	return c
}

func runArchiveNew(ctx context.Context, o *archiveNewOptions) error {
	if o.sql {
		if err := bucketKnown(o.bags); err != nil {
			return err
		}
		_, err := io.WriteString(o.env.Out, archive.Schema(o.bags, o.env.Now()))
		return err
	}
	path, err := o.place()
	if err == nil {
		err = bucketKnown(o.bags)
	}
	if err != nil {
		return err
	}
	if archive.OnServer(path) && o.key == "" {
		return session.Usagef("a data base keeps no key that signs: name the Ed25519 key of its log with --key FILE (made by: %s)", o.env.Hint("key", "new", "-o", "log-key"))
	}
	parts, err := policyParts(o.policy)
	if err != nil {
		return err
	}
	var public ssh.PublicKey
	if o.key != "" {
		if public, err = publicKey(o.env, o.key); err != nil {
			return err
		}
		if _, err := originOf(public); err != nil {
			return fmt.Errorf("key %s: %w", o.key, err)
		}
	}
	a, err := archive.CreateWith(ctx, path, o.bags, parts, o.env.Now())
	if err != nil {
		return err
	}
	if err := o.keyed(ctx, a, public); err != nil {
		return errors.Join(err, a.Discard())
	}
	if err := a.Close(); err != nil {
		return err
	}
	o.env.Made(archive.Said(path))
	fmt.Fprintln(o.env.Out, archive.Said(path))
	fmt.Fprintf(o.env.Err, "fill it with: %s\n", o.hint("add", "BAG"))
	return nil
}

// keyed gives an archive the key of its log, one made in its folder where none is named; an
// archive whose heads nobody can sign is not begun.
func (o *archiveNewOptions) keyed(ctx context.Context, a *archive.Archive, public ssh.PublicKey) error {
	if public != nil {
		return setLogKey(ctx, a, public, o.env.Now())
	}
	file := filepath.Join(a.Path(), logKeyFile)
	public, _, err := makeKey(o.env, file, nil)
	if err != nil {
		return err
	}
	if err := setLogKey(ctx, a, public, o.env.Now()); err != nil {
		return errors.Join(err, os.Remove(file), os.Remove(file+".pub"))
	}
	return nil
}

// bucketKnown tells why no archive can have its bags in a bucket, nil where none is named.
func bucketKnown(url string) error {
	if url == "" {
		return nil
	}
	err := archive.KnowsBucket(url)
	if err != nil && !errors.Is(err, archive.ErrNoBucket) {
		return session.Usagef("--bags: %v", err)
	}
	return err
}

// policyParts reads a policy file and those that it names, which lie beside it; none where
// there is no file.
func policyParts(file string) ([]archive.Part, error) {
	if file == "" {
		return nil, nil
	}
	parts, err := admit.Gather(filepath.Base(file), func(name string) ([]byte, error) {
		if !filepath.IsAbs(name) {
			name = filepath.Join(filepath.Dir(file), name)
		}
		data, err := readFile(name, maxInput)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return data, nil
	})
	if err != nil {
		return nil, fmt.Errorf("policy %s: %w", file, err)
	}
	return parts, nil
}
