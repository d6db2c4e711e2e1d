package mesh

import "errors"

// Reasons why a link doesn't come about or ends.
var (
	// ErrUnknownDevice is what [Config.Admit] wraps for a device whose grant
	// isn't held. The peer is then asked for its introduction, once; it is
	// returned when that didn't bring the grant.
	ErrUnknownDevice = errors.New("this laptop hasn't heard of that one's invitation, and what that one could show of it doesn't reach back to what is known here: they link once either meets a laptop that knows both")
	// ErrFormerKey is returned for a device whose grant isn't held and that knows a
	// link key from before a change alone. It may have been revoked, so that nothing
	// more is asked of it or shown to it.
	ErrFormerKey = errors.New("this laptop hasn't heard of that one's invitation, nor that one of the staff's new link key: they link once either meets a laptop that knows both")
	// ErrNoAnswer is returned when the other side closes without a word, as
	// it does with whoever can't show one of its link keys.
	ErrNoAnswer = errors.New("no answer: not a laptop of this staff, or this one was revoked and can't know it yet; ask the director")
	// ErrProof is returned when the other side shows a code or a signature
	// that doesn't belong to this very connection. Somebody may be in between.
	ErrProof = errors.New("the other side can't prove who it is on this connection")
	// ErrRefused is returned when the other side doesn't admit this device.
	ErrRefused = errors.New("the other laptop doesn't admit this one: it was revoked, or its invitation hasn't come through there yet; ask the director")
	// ErrSelf is returned for an address that turns out to be this laptop.
	ErrSelf = errors.New("the address is this laptop's own")
	// ErrLinked is returned when a dial finds a device that is linked already.
	ErrLinked = errors.New("already linked to this device")
	// ErrTooLarge is returned by Send for a message beyond [MaxMessage].
	ErrTooLarge = errors.New("message too large")
	// ErrStalled ends a link whose other side takes messages but handles none.
	ErrStalled = errors.New("the other laptop has stopped handling messages")
	// ErrLinkClosed is returned by Send on a link that has ended.
	ErrLinkClosed = errors.New("link closed")
	// ErrClosed is returned once [Mesh.Close] has been called.
	ErrClosed = errors.New("mesh closed")
	// ErrFrame is returned when the other side sends what no laptop would.
	ErrFrame = errors.New("unexpected bytes from the other side")
)

// Reasons why a pairing fails.
var (
	// ErrWord is returned to the joiner when the inviter stays silent.
	ErrWord = errors.New("the inviting laptop doesn't answer: check the address and the word")
	// ErrCode is returned when the code was mistyped three times. If the codes
	// on the two screens really differ, somebody is in between.
	ErrCode = errors.New("the code was wrong three times: pair again over a network that you trust")
	// ErrDeclined is returned when the other side gave up.
	ErrDeclined = errors.New("the other side ended the pairing: ask for a new invitation")
	// ErrSpent is returned when three sessions of an invitation have failed.
	ErrSpent = errors.New("three attempts failed: make a new invitation")
	// ErrExpired is returned when nobody joined in time.
	ErrExpired = errors.New("nobody joined in time: make a new invitation")
	// ErrBroken is returned when the connection ends in the middle of it.
	ErrBroken = errors.New("the connection ended during the pairing: start it again")
	// ErrRoot is returned when the staff isn't the one that was promised
	// before the codes were compared.
	ErrRoot = errors.New("the staff isn't the one whose codes were compared")
	// ErrUnconfirmed is returned to the inviter when everything was sent but
	// the joiner's last word didn't arrive: it may have joined all the same.
	ErrUnconfirmed = errors.New("the other laptop didn't confirm that it joined: look whether it shows the staff")
)
