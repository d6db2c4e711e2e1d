package mesh

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"io"
	"log/slog"
	"net"
	"testing"
	"time"
)

// screen is a person with a laptop: shown codes come out, typed ones go in.
type screen struct{ shown, typed chan string }

func newScreen() screen { return screen{make(chan string, 8), make(chan string, 8)} }

func (s screen) Show(code string) error { s.shown <- code; return nil }

func (s screen) Ask(ctx context.Context) (string, error) {
	select {
	case text := <-s.typed:
		return text, nil
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// invitation runs an inviter and collects what comes of it.
type invitation struct {
	screen
	root    ed25519.PublicKey
	device  ed25519.PrivateKey
	at      Invitation
	payload []byte
	welcome chan ed25519.PublicKey
	result  chan error
}

func invite(t *testing.T, change func(*InviteConfig)) *invitation {
	t.Helper()
	root, _, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	i := &invitation{screen: newScreen(), root: root, device: newKey(t), payload: make([]byte, 1<<20),
		welcome: make(chan ed25519.PublicKey, 1), result: make(chan error, 1)}
	rand.Read(i.payload)
	announced := make(chan Invitation, 1)
	cfg := InviteConfig{
		Root: root, Device: i.device, Host: "127.0.0.1", Port: -1, Prompt: i.screen, Random: rand.Reader,
		Announce: func(a Invitation) { announced <- a },
		Welcome: func(device ed25519.PublicKey, petition []byte) ([]byte, error) {
			i.welcome <- device
			return i.payload, nil
		},
	}
	if change != nil {
		change(&cfg)
	}
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	go func() { i.result <- Invite(ctx, cfg) }()
	i.at = next(t, announced)
	return i
}

func newKey(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

type joining struct {
	screen
	device  ed25519.PrivateKey
	root    ed25519.PublicKey
	payload []byte
	result  chan error
}

func join(t *testing.T, address, word string, check error) *joining {
	t.Helper()
	j := &joining{screen: newScreen(), device: newKey(t), result: make(chan error, 1)}
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	go func() {
		j.result <- Join(ctx, JoinConfig{
			Address: address, Word: word, Device: j.device, Prompt: j.screen, Random: rand.Reader,
			Check: func(root ed25519.PublicKey, payload []byte) error {
				j.root, j.payload = root, payload
				return check
			},
		})
	}()
	return j
}

// A page leaves the form by which it joined as soon as it shows the staff, which
// ends what it asked for: the inviter hears all the same that it was joined.
func TestWhoHasJoinedConfirmsItEvenIfNobodyWaits(t *testing.T) {
	i := invite(t, nil)
	screen, joined := newScreen(), make(chan error, 1)
	ctx, leave := context.WithCancel(t.Context())
	go func() {
		joined <- Join(ctx, JoinConfig{
			Address: i.address(), Word: i.at.Word, Device: newKey(t), Prompt: screen, Random: rand.Reader,
			Check: func(ed25519.PublicKey, []byte) error {
				leave()
				// Whatever hangs on the end of ctx has its time.
				<-time.After(50 * time.Millisecond)
				return nil
			},
		})
	}()
	i.typed <- next(t, screen.shown)
	screen.typed <- next(t, i.shown)
	if err := next(t, joined); err != nil {
		t.Errorf("the joiner: %v", err)
	}
	if err := next(t, i.result); err != nil {
		t.Errorf("the inviter: %v", err)
	}
}

func (i *invitation) address() string { return i.at.Addresses[0].String() }

func TestPairing(t *testing.T) {
	i := invite(t, nil)
	j := join(t, i.address(), " "+string(bytes.ToUpper([]byte(i.at.Word)))+" ", nil)
	fromI, fromJ := next(t, i.shown), next(t, j.shown)
	if len(fromI) != 6 || len(fromJ) != 6 {
		t.Errorf("codes %q and %q", fromI, fromJ)
	}
	i.typed <- "000000 " // one slip is no harm
	i.typed <- fromJ[:3] + " " + fromJ[3:]
	if len(i.welcome) != 0 {
		t.Error("welcomed before both agreed")
	}
	j.typed <- fromI
	if got := next(t, i.welcome); !got.Equal(j.device.Public()) {
		t.Error("another key was welcomed")
	}
	if err := next(t, i.result); err != nil {
		t.Error(err)
	}
	if err := next(t, j.result); err != nil {
		t.Fatal(err)
	}
	if !j.root.Equal(i.root) || !bytes.Equal(j.payload, i.payload) {
		t.Error("the joiner got something else than was handed over")
	}
}

// Both know at once that a mistyped code ends it, whoever mistypes.
func TestTheCodeIsWrongThreeTimes(t *testing.T) {
	i := invite(t, nil)
	for n := range pairingSessions {
		j := join(t, i.address(), i.at.Word, nil)
		next(t, i.shown)
		next(t, j.shown)
		wrong, waits := j.screen, i.screen
		if n == 1 {
			wrong, waits = i.screen, j.screen
		}
		for range pairingTries {
			wrong.typed <- "12345x"
		}
		want := ErrCode
		if n == 1 {
			want = ErrDeclined
		}
		if err := next(t, j.result); !errors.Is(err, want) {
			t.Errorf("session %d, the joiner: %v", n, err)
		}
		if len(waits.typed) != 0 {
			t.Error("the other side was asked once more")
		}
	}
	err := next(t, i.result)
	if !errors.Is(err, ErrSpent) || !errors.Is(err, ErrDeclined) {
		t.Errorf("the inviter: %v", err)
	}
	if len(i.welcome) != 0 {
		t.Error("somebody was welcomed")
	}
	fourth := join(t, i.address(), i.at.Word, nil)
	if err := next(t, fourth.result); err == nil || len(fourth.shown) != 0 {
		t.Errorf("a fourth attempt: %v, %d codes shown", err, len(fourth.shown))
	}
}

func TestAWrongWordIsAnsweredWithSilence(t *testing.T) {
	i := invite(t, nil)
	j := join(t, i.address(), "babab-babab", nil)
	if err := next(t, j.result); !errors.Is(err, ErrWord) {
		t.Errorf("got %v", err)
	}
	conn, err := tls.Dial("tcp", i.address(), dialTLS())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	conn.Write(make([]byte, 64))
	if n, _ := io.Copy(io.Discard, conn); n != 0 {
		t.Errorf("%d bytes came", n)
	}
	// It costs the invitation nothing.
	k := join(t, i.address(), i.at.Word, nil)
	i.typed <- next(t, k.shown)
	k.typed <- next(t, i.shown)
	if err := next(t, i.result); err != nil {
		t.Error(err)
	}
	if err := next(t, k.result); err != nil {
		t.Error(err)
	}
}

// Somebody in the middle who has even overheard the word, and speaks the
// protocol to both sides, makes the codes differ.
func TestTheManInTheMiddleOfAPairing(t *testing.T) {
	i := invite(t, nil)
	middle, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer middle.Close()
	toJoiner := make(chan *session, 1)
	attacker := InviteConfig{Root: i.root, Device: newKey(t), Random: rand.Reader} // he may know the root, too
	front, err := newFront(middle, slog.New(slog.DiscardHandler), func(_ context.Context, conn *tls.Conn, raw *budgetConn) {
		if s, err := attacker.meet(conn, raw, i.at.Word); err == nil {
			raw.SetDeadline(time.Time{})
			toJoiner <- s
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	go front.run(context.Background())
	j := join(t, middle.Addr().String(), i.at.Word, nil)
	raw, err := net.Dial("tcp", i.address())
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	toInviter, err := JoinConfig{Word: i.at.Word, Device: newKey(t), Random: rand.Reader}.meet(context.Background(), raw)
	if err != nil {
		t.Fatal(err)
	}
	defer next(t, toJoiner).raw.Close()
	onI, onJ := next(t, i.shown), next(t, j.shown)
	if toInviter.want != onI || toInviter.mine == onI {
		t.Error("the attacker's own session isn't a session") // else this test shows nothing
	}
	// Each person types what stands on the other one's screen.
	for range pairingTries {
		i.typed <- onJ
		j.typed <- onI
	}
	if err := next(t, j.result); !errors.Is(err, ErrCode) {
		t.Errorf("the joiner: %v", err)
	}
	if len(i.welcome) != 0 {
		t.Error("the attacker was welcomed")
	}
}

// Codes of one in a million each must not repeat from session to session, and
// the two of a session must not be one.
func TestCodesDependOnEverything(t *testing.T) {
	base := transcript{inviter: offer{key: make([]byte, 32)}, joiner: offer{key: make([]byte, 32)}}
	a, b := base.codes()
	if a == b {
		t.Error("both screens show one code")
	}
	for name, change := range map[string]func(*transcript){
		"the TLS session":  func(s *transcript) { s.e[0]++ },
		"the promise":      func(s *transcript) { s.bound[0]++ },
		"inviter's nonce":  func(s *transcript) { s.inviter.nonce[0]++ },
		"inviter's key":    func(s *transcript) { s.inviter.key = bytes.Repeat([]byte{1}, 32) },
		"the root's hash":  func(s *transcript) { s.root[0]++ },
		"the joiner's key": func(s *transcript) { s.joiner.key = bytes.Repeat([]byte{1}, 32) },
		"joiner's nonce":   func(s *transcript) { s.joiner.nonce[0]++ },
	} {
		other := base
		change(&other)
		if x, y := other.codes(); x == a || y == b {
			t.Errorf("%s doesn't count", name)
		}
	}
}

func TestAnotherRootThanPromised(t *testing.T) {
	for name, change := range map[string]func(*session){
		"another root":    func(s *session) { s.seen.root[0]++ },
		"another promise": func(s *session) { s.seen.inviter.nonce[0]++ },
	} {
		near, far := net.Pipe()
		client, server := tls.Client(near, dialTLS()), tls.Server(far, mustListenTLS(t))
		go func() {
			writeFrame(server, make([]byte, 40))
			io.Copy(io.Discard, server)
		}()
		s := &session{conn: client, raw: near}
		s.seen.root = rootHash(make([]byte, 32), s.seen.inviter.nonce)
		change(s)
		kept := false
		err := JoinConfig{Check: func(ed25519.PublicKey, []byte) error { kept = true; return nil }}.keep(context.Background(), s, func() bool { return true })
		if !errors.Is(err, ErrRoot) || kept {
			t.Errorf("%s: %v, kept %t", name, err, kept)
		}
		far.Close()
	}
}

// A joiner that waits for the inviter's nonce before it chooses its own, or
// that offers a key it doesn't hold, gets to no code.
func TestTheJoinerIsBoundByItsFirstMessage(t *testing.T) {
	for name, bend := range map[string]func(o *offer, signature []byte){
		"another nonce":  func(o *offer, _ []byte) { o.nonce[0]++ },
		"no signature":   func(_ *offer, signature []byte) { clear(signature) },
		"as it promised": nil, // else this test shows nothing
	} {
		t.Run(name, func(t *testing.T) {
			i := invite(t, nil)
			conn, err := tls.Dial("tcp", i.address(), dialTLS())
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			e, err := export(conn, pairingLabel)
			if err != nil {
				t.Fatal(err)
			}
			key := newKey(t)
			o, err := newOffer(key, rand.Reader)
			if err != nil {
				t.Fatal(err)
			}
			c, bound := wordCode(i.at.Word, dialing, e), boundTo(e, o)
			writeAll(conn, c[:], bound[:])
			if _, err := io.ReadFull(conn, make([]byte, 32+32+32+32+64)); err != nil {
				t.Fatal(err)
			}
			signature := o.sign(key, dialing, e)
			if bend == nil {
				writeAll(conn, o.nonce[:], o.key, signature)
				next(t, i.shown)
				return
			}
			bend(&o, signature)
			writeAll(conn, o.nonce[:], o.key, signature)
			if n, err := conn.Read(make([]byte, 1)); err == nil || n > 0 {
				t.Error("the inviter goes on")
			}
			if len(i.shown) != 0 {
				t.Error("a code was shown")
			}
		})
	}
}

// An impostor who doesn't know the word, or bends the inviter's answer.
func TestTheInviterProvesTheWord(t *testing.T) {
	front, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer front.Close()
	go func() {
		conn, err := tls.NewListener(front, mustListenTLS(t)).Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		conn.Write(make([]byte, 32+32+32+32+64))
		io.Copy(io.Discard, conn)
	}()
	j := join(t, front.Addr().String(), "babab-babab", nil)
	if err := next(t, j.result); !errors.Is(err, ErrProof) {
		t.Errorf("got %v", err)
	}
	if len(j.shown) != 0 {
		t.Error("a code was shown")
	}
}

func TestTheJoinerRefusesWhatItGets(t *testing.T) {
	i := invite(t, nil)
	errNot := errors.New("not a grant of this root")
	j := join(t, i.address(), i.at.Word, errNot)
	i.typed <- next(t, j.shown)
	j.typed <- next(t, i.shown)
	if err := next(t, j.result); !errors.Is(err, errNot) {
		t.Errorf("the joiner: %v", err)
	}
	if err := next(t, i.result); !errors.Is(err, ErrDeclined) {
		t.Errorf("the inviter: %v", err)
	}
}

func TestTheInviterCantGrant(t *testing.T) {
	errFull := errors.New("no space left")
	i := invite(t, func(c *InviteConfig) {
		c.Welcome = func(ed25519.PublicKey, []byte) ([]byte, error) { return nil, errFull }
	})
	j := join(t, i.address(), i.at.Word, nil)
	i.typed <- next(t, j.shown)
	j.typed <- next(t, i.shown)
	if err := next(t, i.result); !errors.Is(err, errFull) {
		t.Errorf("the inviter: %v", err)
	}
	if err := next(t, j.result); !errors.Is(err, ErrDeclined) {
		t.Errorf("the joiner: %v", err)
	}
}

func TestTheJoinerWalksAway(t *testing.T) {
	i := invite(t, nil)
	raw, err := net.Dial("tcp", i.address())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := (JoinConfig{Word: i.at.Word, Device: newKey(t), Random: rand.Reader}).meet(context.Background(), raw); err != nil {
		t.Fatal(err)
	}
	next(t, i.shown)
	raw.Close() // the inviter's question is taken back
	j := join(t, i.address(), i.at.Word, nil)
	code := next(t, i.shown) // what is typed before answers the one who walked away
	i.typed <- next(t, j.shown)
	j.typed <- code
	if err := next(t, i.result); err != nil {
		t.Errorf("the next one can't join: %v", err)
	}
}

func TestAnInvitationEnds(t *testing.T) {
	i := invite(t, func(c *InviteConfig) { c.Lasts = time.Millisecond })
	if err := next(t, i.result); !errors.Is(err, ErrExpired) {
		t.Errorf("got %v", err)
	}
	j := join(t, i.address(), i.at.Word, nil)
	if err := next(t, j.result); err == nil {
		t.Error("joined after the end")
	}
}

// The vectors are those of the proquint paper (arXiv:0901.4016).
func TestQuints(t *testing.T) {
	for ip, want := range map[[4]byte]string{
		{127, 0, 0, 1}:      "lusab-babad",
		{63, 84, 220, 193}:  "gutih-tugad",
		{63, 118, 7, 35}:    "gutuk-bisog",
		{140, 98, 193, 141}: "mudof-sakat",
		{64, 255, 6, 200}:   "haguz-biram",
		{128, 30, 52, 45}:   "mabiv-gibot",
		{147, 67, 119, 2}:   "natag-lisaf",
		{212, 58, 253, 68}:  "tibup-zujah",
		{216, 35, 68, 215}:  "tobog-higil",
		{216, 68, 232, 21}:  "todah-vobij",
		{198, 81, 129, 136}: "sinid-makam",
		{12, 110, 110, 204}: "budov-kuras",
	} {
		if got, err := newWord(bytes.NewReader(ip[:])); err != nil || got != want {
			t.Errorf("%v: %s, want %s (%v)", ip, got, want, err)
		}
	}
	if plainWord(" Lusab Babad\n") != plainWord("lusab-babad") {
		t.Error("the word must be typed exactly")
	}
}

func mustListenTLS(t *testing.T) *tls.Config {
	t.Helper()
	c, err := listenTLS()
	if err != nil {
		t.Fatal(err)
	}
	return c
}
