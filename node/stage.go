package node

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// Moving is a ledger that a person kept alone, on its way into a staff (ledger rule
// 33).
type Moving struct {
	Data string // the folder in which it lies
	From *storage.Store
	Was  entry.PersonID // who wrote it
	// Key is the laptop's, Certificate what the staff granted it, and Control the
	// logs that show so.
	Key         ed25519.PrivateKey
	Staff       entry.StaffID
	Certificate entry.Certificate
	Control     []byte
	Random      io.Reader
	Now         time.Time
	// First is what the laptop says before what it takes along.
	First Draft
	// Brought, if set, is called before anything is written, and Note, if set, behind
	// all that goes along.
	Brought func(to *storage.Store)
	Note    func(to *storage.Store, goes func(entry.RecordID) bool) error
}

// Stage makes the folder from which [SettleMove] goes on once the keys are the
// staff's. All of it is durable when it returns without an error. What it leaves
// else is nothing to anybody.
func (m Moving) Stage(ctx context.Context) error {
	folder := moveFolder(m.Data, m.Staff, entry.DeviceOf(m.Certificate.Device))
	if err := os.RemoveAll(folder); err != nil {
		return fmt.Errorf("make room for the staff's ledger: %w", err)
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		return fmt.Errorf("make room for the staff's ledger: %w", err)
	}
	if err := m.From.Backup(ctx, filepath.Join(folder, keptFile), nil); err != nil {
		return err
	}
	to, err := storage.Open(ctx, filepath.Join(folder, databaseFile), storage.Options{Staff: m.Staff, Projector: projector{}})
	if err != nil {
		return err
	}
	if err := errors.Join(m.fill(ctx, to), to.CloseWhole()); err != nil {
		return err
	}
	return errors.Join(syncFolder(folder), syncFolder(m.Data))
}

// admitted stores a staff's control logs, and refuses a newcomer whom they don't admit.
func admitted(ctx context.Context, to *storage.Store, control, certificate []byte) error {
	err := Learn(control, to.Staff(), to, func(run entry.Run) error {
		_, err := to.Append(ctx, run)
		return err
	})
	if err != nil {
		return err
	}
	return admits(to, certificate)
}

// fill writes the staff's ledger as far as this laptop knows it: what the welcome
// brought, and what was written alone.
func (m Moving) fill(ctx context.Context, to *storage.Store) error {
	certificate := m.Certificate.Encode()
	if err := admitted(ctx, to, m.Control, certificate); err != nil {
		return err
	}
	if m.Brought != nil {
		m.Brought(to)
	}
	work := rewriting{
		from: m.From, to: to, cert: m.Certificate, was: m.Was, now: m.Now,
		own: &OwnLogs{Staff: to.Staff(), Key: m.Key, Random: m.Random, Certificate: func() ([]byte, error) { return certificate, nil }},
	}
	if err := work.all(ctx, m.First); err != nil || m.Note == nil {
		return err
	}
	return m.Note(to, work.goes)
}
