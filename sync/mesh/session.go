package mesh

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"math/big"
	"time"
)

// throwaway makes a certificate that says nothing: no name, no lasting key,
// the same dates for everybody. TLS wants one; nobody judges by it.
func throwaway() (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("make a throwaway key: %w", err)
	}
	blank := &x509.Certificate{
		SerialNumber: big.NewInt(1),
		NotBefore:    time.Unix(0, 0),
		NotAfter:     time.Date(2049, 1, 1, 0, 0, 0, 0, time.UTC),
	}
	der, err := x509.CreateCertificate(rand.Reader, blank, blank, &key.PublicKey, key)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("make a throwaway certificate: %w", err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, nil
}

// listenTLS leaves out session tickets: a session resumed later would skip
// what is proven here, and a ticket is a byte shown to strangers.
func listenTLS() (*tls.Config, error) {
	cert, err := throwaway()
	if err != nil {
		return nil, err
	}
	return &tls.Config{
		MinVersion:             tls.VersionTLS13,
		Certificates:           []tls.Certificate{cert},
		SessionTicketsDisabled: true,
	}, nil
}

// dialTLS checks no certificate and names no server. Who is at the other end
// is proven afterwards, over the session's exporter value, which differs on
// the two sides of anybody in the middle.
func dialTLS() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS13, InsecureSkipVerify: true}
}

// exporter is the value E of a TLS session (RFC 8446, 7.5): both ends have it,
// nobody else can, and no other session has the same.
type exporter [32]byte

// The labels keep a value made for links from serving in a pairing.
const (
	linkLabel    = "EXPORTER-plumbline-link-v1"
	pairingLabel = "EXPORTER-plumbline-pairing-v1"
)

func export(conn *tls.Conn, label string) (exporter, error) {
	state := conn.ConnectionState()
	value, err := state.ExportKeyingMaterial(label, nil, len(exporter{}))
	if err != nil {
		return exporter{}, fmt.Errorf("export from TLS: %w", err)
	}
	return exporter(value), nil
}
