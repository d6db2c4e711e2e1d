package node

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gofrs/flock"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/mesh"
)

// Config says where a node lives and what it may use.
type Config struct {
	// Data is the folder of the database, State the one of this laptop's
	// secrets and addresses. Both are made if missing, for the user alone.
	Data, State string
	Version     string
	Now         func() time.Time // time.Now if nil
	Random      io.Reader        // crypto/rand if nil
	Log         *slog.Logger     // silent if nil
	// Links turns links to other laptops on. Without it the node is alone, as
	// for a command that opens the folder itself.
	Links *Links
}

// Links says how this laptop meets others. The zero value listens on all
// interfaces at the default port and is silent on the network.
type Links struct {
	Host       string
	Port       int
	Beacon     bool
	BeaconPort int
}

// Node is one laptop. Its methods may be called from many goroutines.
type Node struct {
	cfg   Config
	lock  *flock.Flock
	store *storage.Store
	// outside keeps what proves that this laptop may continue its logs.
	outside *tokenPath

	// keys changes when a staff is founded or joined, one attempt at a time.
	keys atomic.Pointer[identity]
	// pair is the device's key pair, made of its seed once: every save asks for
	// it, and making it costs as much as signing.
	pair     ed25519.PrivateKey
	entering sync.Mutex
	// secrets is held while what the keys' file holds is replaced.
	secrets sync.Mutex
	// hasMoved is set, with secrets held, once the keys' file says that this laptop
	// belongs to another staff than this process works for; see moving.go.
	hasMoved  bool
	moved     chan struct{}
	tellMoved func() // closes moved

	// mu guards the core and the links: one owner of the state, and no call
	// outward while it is held but to the disk.
	mu       sync.Mutex
	own      *OwnLogs
	core     *Core
	links    map[LinkID]*peerLink
	lastLink LinkID
	unsound  map[entry.DeviceID]error
	mesh     *mesh.Mesh
	again    bool // see tryAgain
	leaving  bool // nothing is saved here any more

	watchers watchers
	pairings pairings
	overview overview
	// remembering lets links note their addresses one at a time.
	remembering sync.Mutex

	ctx     context.Context
	stop    context.CancelFunc
	inbox   chan Event
	grown   chan struct{} // see tidy
	stirs   atomic.Uint64
	calming atomic.Bool // tidy waits for calm
	// importing counts tables that are being read: tidy waits for what they bring.
	importing atomic.Int32
	// asking counts lists that are being answered: tidy lets them go first.
	asking  atomic.Int32
	made    madeTitles
	packing sync.Mutex // held while packs are made
	running sync.WaitGroup
}

// inboxSize is how many messages of peers may wait for their step. With it
// full, peers wait: their links slow down.
const inboxSize = 32

// Open takes the data folder's lock, opens the database and starts. It returns
// [ErrInUse] while another process has the folder.
func Open(ctx context.Context, cfg Config) (*Node, error) {
	cfg = cfg.withDefaults()
	for _, folder := range []string{cfg.Data, cfg.State} {
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return nil, fmt.Errorf("make folder: %w", err)
		}
	}
	lock := flock.New(filepath.Join(cfg.Data, lockFile))
	if got, err := lock.TryLock(); err != nil {
		return nil, fmt.Errorf("lock %s: %w", cfg.Data, err)
	} else if !got {
		return nil, refuse(ErrInUse, "the data folder %s is in use by another plumbline: stop that one, or name another folder with --data", cfg.Data)
	}
	if err := sweep(cfg.Data, passingRestore); err != nil {
		return nil, errors.Join(err, lock.Unlock())
	}
	n := &Node{cfg: cfg, lock: lock, links: map[LinkID]*peerLink{}, unsound: map[entry.DeviceID]error{}}
	n.moved = make(chan struct{})
	n.tellMoved = sync.OnceFunc(func() { close(n.moved) })
	n.inbox, n.grown = make(chan Event, inboxSize), make(chan struct{}, 1)
	n.ctx, n.stop = context.WithCancel(context.WithoutCancel(ctx))
	if err := n.start(ctx); err != nil {
		n.stop()
		return nil, errors.Join(err, n.shut(), n.lock.Unlock())
	}
	if n.id().founded() && cfg.Links != nil {
		if err := n.startLinks(); err != nil {
			return nil, errors.Join(err, n.Close())
		}
	}
	return n, nil
}

func (c Config) withDefaults() Config {
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Random == nil {
		c.Random = rand.Reader
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return c
}

func (n *Node) start(ctx context.Context) error {
	n.outside = n.tokenOutside()
	keys, err := loadIdentity(n.cfg.State, n.cfg.Random)
	if err != nil {
		return err
	}
	n.keys.Store(keys)
	n.pair = keys.key()
	var staff entry.StaffID
	if n.id().founded() {
		if staff, err = n.id().staff(); err != nil {
			return err
		}
	}
	device := entry.DeviceOf(n.public())
	if err := SettleMove(n.cfg.Data, staff, device); err != nil {
		return err
	}
	err = n.openLedger(func() (*storage.Store, error) {
		return storage.Open(ctx, filepath.Join(n.cfg.Data, databaseFile), storage.Options{Staff: staff, Projector: projector{}, Device: device})
	})
	if errors.Is(err, storage.ErrOtherStaff) {
		if filepath.Base(n.cfg.Data) == keptName {
			return refuse(ErrInvalid, "in %s lies what was written alone, which goes without this laptop's keys in %s: to read it leave --state out, as in plumbline --data %[1]s list", n.cfg.Data, n.cfg.State)
		}
		return refuse(ErrInvalid, "the data in %s belongs to another staff than this laptop's keys in %s: name the folders that go together", n.cfg.Data, n.cfg.State)
	}
	if err != nil {
		return err
	}
	if err := sweep(n.cfg.State, passingSecret); err != nil {
		return err
	}
	if err := SweepMoves(n.cfg.Data, n.id().founded(), device); err != nil {
		n.cfg.Log.Warn("some space is not given back", "cause", err)
	}
	n.own = &OwnLogs{Staff: staff, Key: n.pair, Random: n.cfg.Random, Certificate: n.certificate}
	n.core = NewCore(n.store, n.own, heldKeys{n})
	if err := TakeToken(ctx, n.store, n.outside, n.own); err != nil {
		n.cfg.Log.Warn("own logs aren't continued", "cause", err)
	}
	n.running.Go(n.run)
	n.running.Go(n.tidy)
	n.running.Go(n.dropSilent)
	n.stir()
	return nil
}

// What a data folder holds.
const (
	databaseFile = "plumbline.db"
	lockFile     = "lock"
)

// Close ends all links, signs off and leaves what proves that this laptop may
// continue its logs.
func (n *Node) Close() error {
	n.mu.Lock()
	m := n.mesh
	n.mesh = nil
	n.mu.Unlock()
	var err error
	if m != nil {
		err = m.Close()
	}
	n.mu.Lock()
	n.stop() // and nothing is spawned any more
	n.mu.Unlock()
	n.running.Wait()
	n.watchers.close()
	// Whoever still writes is refused by now, since n.ctx has ended; with mu
	// held nobody is half-way through it.
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.movedAway() {
		err = errors.Join(err, n.shut(), n.settleIntoStaff())
		return errors.Join(err, n.lock.Unlock())
	}
	left := LeaveToken(context.Background(), n.store, n.outside, n.own)
	err = errors.Join(err, n.shut())
	if left = errors.Join(left, n.outside.write()); left != nil {
		// It costs a new log at the next start, no more.
		n.cfg.Log.Warn("own logs will not be continued", "cause", left)
	}
	return errors.Join(err, n.lock.Unlock())
}

// spawn starts what Close waits for; nothing once it has begun to wait.
func (n *Node) spawn(do func()) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.spawnLocked(do)
}

// spawnLocked is called with mu held.
func (n *Node) spawnLocked(do func()) {
	if n.ctx.Err() == nil {
		n.running.Go(do)
	}
}

// shut closes the database. The folder's lock is given back after it.
func (n *Node) shut() error {
	if n.store == nil {
		return nil
	}
	return n.store.Close()
}

// run steps through what peers send, several messages at a time when they
// come fast.
func (n *Node) run() {
	for {
		select {
		case <-n.ctx.Done():
			return
		case e := <-n.inbox:
			n.step(gather(e, n.inbox)...)
		}
	}
}

func gather(first Event, more <-chan Event) []Event {
	events := []Event{first}
	for len(events) < inboxSize {
		select {
		case e := <-more:
			events = append(events, e)
		default:
			return events
		}
	}
	return events
}

// step lets the core take events and carries out what it asks for. It returns
// the answer to a Save, if there was one.
func (n *Node) step(events ...Event) Saved {
	n.mu.Lock()
	if n.leaving && slices.ContainsFunc(events, saves) {
		n.mu.Unlock()
		return Saved{Err: errMoving}
	}
	actions := n.core.Step(n.ctx, n.cfg.Now(), events...)
	saved, rejudge := n.carryOut(actions)
	m := n.mesh
	n.mu.Unlock()
	if rejudge && m != nil {
		n.rejudge(m)
	}
	return saved
}

// carryOut is called with mu held. It blocks on nothing: messages are queued,
// watchers are only woken.
func (n *Node) carryOut(actions []Action) (saved Saved, rejudge bool) {
	for _, a := range actions {
		switch a := a.(type) {
		case Send:
			if l := n.links[a.Link]; l != nil {
				l.queue(a.Message)
			}
		case Refused:
			if l := n.links[a.Link]; l != nil {
				l.refusals++
				if l.refusals <= maxToldRefusals {
					n.cfg.Log.Warn("entries refused", "device", l.link.Peer().Device, "cause", a.Err)
				}
				n.suspect(l.link.Peer().Device, a.Err)
			}
		case Drop:
			if l := n.links[a.Link]; l != nil {
				n.cfg.Log.Warn("link dropped", "device", l.link.Peer().Device, "cause", a.Err)
				n.suspect(l.link.Peer().Device, a.Err)
				l.link.Close(a.Err.Error())
			}
		case Saved:
			saved = a
		case Returned:
			n.spawnLocked(func() { n.noteReturned(a) })
		case Failed:
			n.cfg.Log.Warn("to be tried again", "in", tryAgainAfter, "cause", a.Err)
			n.tryAgain()
		case Grown:
			rejudge = rejudge || a.Outcome.Control
			n.made.touched(a.Outcome.Touched)
			n.watchers.grown(a.Outcome.Touched)
			n.stir()
		}
	}
	return saved, rejudge
}

// Founded reports whether this laptop belongs to a staff.
func (n *Node) Founded() bool { return n.id().founded() }

func (n *Node) id() *identity { return n.keys.Load() }

// public is this laptop's key as others know it.
func (n *Node) public() ed25519.PublicKey { return n.pair.Public().(ed25519.PublicKey) }
