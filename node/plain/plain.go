// Package plain puts what a network, a database or a disk says into words for
// people, as the command line and the page show them. Start with [Words]. It
// knows the system's own sentences alone: what Plumbline says itself, and what a
// person typed, stays as it is.
package plain

import (
	"errors"
	"regexp"
)

// worded is an error in words for people. What the system said instead is kept.
type worded struct {
	cause error
	text  string
}

func (p *worded) Error() string { return p.text }
func (p *worded) Unwrap() error { return p.cause }

// Words puts an error into words that help; one that needs none is returned as
// it is.
func Words(err error) error {
	if err == nil {
		return nil
	}
	text := err.Error()
	for _, said := range saidBySystems {
		text = said.how.ReplaceAllString(text, said.words)
	}
	if text == err.Error() {
		return err
	}
	return &worded{err, text}
}

const refusedOnWindows = `connectex: No connection could be made because the target machine actively refused it\.`

// saidBySystems are the system's words with those for people: the longer ones
// first, since a short one may be a part of them.
var saidBySystems = []struct {
	how   *regexp.Regexp
	words string
}{
	{regexp.MustCompile(`(?:dial (?:tcp|udp)[46]? ?(?:\S+)?: )?lookup ([^\s:]+)(?: on \S+)?: (?:\S+ udp \S+: )?(?:read: |connect: )?` +
		`(?:no such host|Temporary failure in name resolution|server misbehaving|i/o timeout|connection refused|network is unreachable)`),
		"no computer called $1 is known here"},
	{regexp.MustCompile(`dial (?:tcp|udp)[46]?:? ?([^\s:]+|\[[^\s]+\])(:\d+)?: (?:connect: connection refused|` + refusedOnWindows + `)`), "nothing listens at $1$2"},
	{regexp.MustCompile(`connect: connection refused|` + refusedOnWindows), "nothing listens there"},
	{regexp.MustCompile(`dial (?:tcp|udp)[46]?:? ?\[(fe[89ab][^%\]]+)\](:\d+): connect: invalid argument`),
		"$1 leads over one network alone: say which one it is, as in [$1%INTERFACE]$2"},
	{regexp.MustCompile(`(?:dial (?:tcp|udp)[46]?:? ?\S* ?)?(?:connect: )?(?:no route to host|network is unreachable|host is down)`), "no network leads there"},
	{regexp.MustCompile(`(?:dial (?:tcp|udp)[46]?:? ?\S* ?)?(?:i/o timeout|connect: connection timed out|connect: operation timed out)`), "no answer came in time"},
	{regexp.MustCompile(`dial (?:tcp|udp)[46]?:? address ([^:]+): missing port in address`), "$1 has no port: give it as host:port"},
	{regexp.MustCompile(`address ([^:\s]+): missing port in address`), "$1 has no port: give it as host:port"},
	{regexp.MustCompile(`(?:(?:read|write) (?:tcp|udp)[46]? \S+: )?(?:read: |write: )?(?:connection reset by peer|broken pipe|wsarecv: An existing connection was forcibly closed by the remote host\.)`), "the other side hung up"},
	{regexp.MustCompile(`(: |\()(?:unexpected )?EOF(\)|:|$)`), "${1}the other side hung up$2"},
	{regexp.MustCompile(`secure the connection: the other side hung up`),
		"the other side hung up before the connection was secure; see that it is plumbline that listens there"},
	{regexp.MustCompile(`secure the connection: tls: first record does not look like a TLS handshake`),
		"no laptop of a staff listens there; it may be the port of its page: take an address that the other laptop shows for this"},
	{regexp.MustCompile(`reach the inviting laptop: (.+)`),
		"the inviting laptop can't be reached, $1; see that it still invites, and that this is an address that it shows"},
	{regexp.MustCompile(`no space left on device|There is not enough space on the disk\.`), "the disk is full: free some space and try again"},
	{regexp.MustCompile(`input/output error`), "the disk can't be read or written there: see that it is still connected, or use another one"},
	{regexp.MustCompile(`read-only file system`), "the disk may only be read: mend that, or name other folders with --data and --state"},
	// SQLite's numbers for its own sentences.
	{regexp.MustCompile(`(database|malformed|full|locked|error|schema|parameter|unable to open database file) \(\d{1,4}\)`), "$1"},
}

// Cause gives what the system said, where [Words] put it into others.
func Cause(err error) (string, bool) {
	var p *worded
	if !errors.As(err, &p) {
		return "", false
	}
	return p.cause.Error(), true
}
