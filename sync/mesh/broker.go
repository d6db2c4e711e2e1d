package mesh

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"sync"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"

	"plumbline/sync/entry"
)

// brokerPings is so long that neither the server nor its clients ping by
// themselves: see keep.
const brokerPings = 24 * time.Hour

// broker is the NATS server inside this process. It listens nowhere: every
// connection into it is handed over by this package, with a token that works
// once. Each device has an account of its own, so that no subject, reply or
// subscription of one peer can reach another one's.
type broker struct {
	server *server.Server
	random io.Reader

	mu    sync.Mutex
	seats map[string]*server.User // by token
}

// seat lets one connection in, for one end of one link.
type seat struct {
	token string
	tag   string // sets the subjects of this link apart from the account's other ones
}

// seatSize is the length of a seat as it is handed to the dialer: token, tag.
const seatSize = 16 + 8

func newBroker(log *slog.Logger, random io.Reader) (*broker, error) {
	var name [16]byte
	if _, err := io.ReadFull(random, name[:]); err != nil {
		return nil, fmt.Errorf("read randomness: %w", err)
	}
	b := &broker{random: random, seats: make(map[string]*server.User)}
	s, err := server.NewServer(&server.Options{
		// Two servers of one name would take each other's clients for theirs.
		ServerName:                 hex.EncodeToString(name[:]),
		DontListen:                 true,
		NoSystemAccount:            true,
		NoSigs:                     true, // signals belong to the program
		CustomClientAuthentication: b,
		MaxPayload:                 MaxMessage,
		MaxPending:                 4 * windowBytes,
		MaxSubs:                    8,
		MaxControlLine:             lineMost,
		PingInterval:               brokerPings,
		AuthTimeout:                strangerTime.Seconds(),
	})
	if err != nil {
		return nil, fmt.Errorf("make the message server: %w", err)
	}
	// Without a logger of our own, a fatal error of the server would end the
	// program.
	s.SetLoggerV2(brokerLog{log}, false, false, false)
	b.server = s
	go s.Start()
	if !s.ReadyForConnections(10 * time.Second) {
		s.Shutdown()
		return nil, errors.New("the message server doesn't get ready: the machine may be overloaded; start again")
	}
	return b, nil
}

func (b *broker) close() {
	b.server.Shutdown()
	b.server.WaitForShutdown()
}

// seats makes the two seats of a link with a device.
func (b *broker) pair(device entry.DeviceID) (own, remote seat, err error) {
	var random [16 + seatSize]byte
	if _, err := io.ReadFull(b.random, random[:]); err != nil {
		return own, remote, fmt.Errorf("read randomness: %w", err)
	}
	remote = seatOf(random[16:])
	own = seat{token: hex.EncodeToString(random[:16]), tag: remote.tag}
	account, _ := b.server.LookupOrRegisterAccount(device.String())
	b.mu.Lock()
	defer b.mu.Unlock()
	b.seats[own.token] = &server.User{Account: account, Permissions: only(own.subjects(listening))}
	b.seats[remote.token] = &server.User{Account: account, Permissions: only(remote.subjects(dialing))}
	return own, remote, nil
}

// drop takes back seats that may not have been used.
func (b *broker) drop(seats ...seat) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range seats {
		delete(b.seats, s.token)
	}
}

// Check is called by the server for every connection.
func (b *broker) Check(c server.ClientAuthentication) bool {
	token := c.GetOpts().Token
	b.mu.Lock()
	user, ok := b.seats[token]
	delete(b.seats, token)
	b.mu.Unlock()
	if ok {
		c.RegisterUser(user)
	}
	return ok
}

func seatOf(data []byte) seat {
	return seat{token: hex.EncodeToString(data[:16]), tag: hex.EncodeToString(data[16:seatSize])}
}

func (s seat) encode() []byte {
	data, err := hex.DecodeString(s.token + s.tag)
	if err != nil {
		panic("mesh: a seat is made of hexadecimal text: " + err.Error())
	}
	return data
}

// subjects are what one end of a link sends to and hears from.
type subjects struct{ out, outHandled, in, inHandled string }

func (s seat) subjects(end side) subjects {
	mine, theirs := s.tag+"."+string(end), s.tag+"."+string(end.other())
	return subjects{out: mine + ".m", outHandled: mine + ".h", in: theirs + ".m", inHandled: theirs + ".h"}
}

func only(s subjects) *server.Permissions {
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: []string{s.out, s.outHandled}},
		Subscribe: &server.SubjectPermission{Allow: []string{s.in, s.inHandled}},
	}
}

// connect makes a NATS client over a connection that exists already.
func connect(conn net.Conn, s seat, options ...nats.Option) (*nats.Conn, error) {
	options = append([]nats.Option{
		nats.SetCustomDialer(handover{conn}),
		nats.SkipHostLookup(),
		nats.Token(s.token),
		// A new connection would need a new handshake of ours.
		nats.NoReconnect(),
		nats.IgnoreDiscoveredServers(),
		nats.Timeout(strangerTime),
		nats.PingInterval(brokerPings),
		nats.FlusherTimeout(writeTime),
		nats.SyncQueueLen(2 * windowMessages),
	}, options...)
	return nats.Connect("nats://peer", options...)
}

// handover is a dialer that has dialled already.
type handover struct{ conn net.Conn }

func (h handover) Dial(string, string) (net.Conn, error) { return h.conn, nil }

// SkipTLSHandshake tells the client library not to put TLS over our own.
func (h handover) SkipTLSHandshake() bool { return true }
