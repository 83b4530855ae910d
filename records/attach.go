package records

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"handback/records/chain"
)

// storeFile keeps the file of a draft unless the book has it already.
func (b *Book) storeFile(ctx context.Context, tx *sql.Tx, d chain.Draft) error {
	if d.Kind != chain.KindAttach {
		return nil
	}
	hash := chain.HashFile(d.File)
	var kept []byte
	err := tx.QueryRowContext(ctx, "SELECT body FROM attachments WHERE hash = ?", hash).Scan(&kept)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		_, err = tx.ExecContext(ctx, "INSERT INTO attachments (hash, body) VALUES (?, ?)", hash, d.File)
	case err == nil && !bytes.Equal(kept, d.File):
		err = b.damaged(chain.Fault{What: fmt.Sprintf("attachment %s does not match its hash", hash)})
	}
	return err
}

// File gives the content of an attachment.
//
// Errors: ErrNoFile; ErrDamaged when the content no longer has this hash.
func (b *Book) File(ctx context.Context, hash string) ([]byte, error) {
	var content []byte
	err := sql.ErrNoRows
	version, versionErr := versionOf(ctx, b.db)
	if versionErr != nil {
		return nil, translate(b.path, versionErr)
	}
	if version > 1 { // the first books had no attachments
		err = b.db.QueryRowContext(ctx, "SELECT body FROM attachments WHERE hash = ?", hash).Scan(&content)
	}
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, fmt.Errorf("%w: %q in %s", ErrNoFile, hash, b.path)
	case err != nil:
		return nil, translate(b.path, err)
	case chain.HashFile(content) != hash:
		return nil, b.damaged(chain.Fault{What: fmt.Sprintf("attachment %s does not match its hash", hash)})
	}
	return content, nil
}
