package merge

import (
	"crypto/ed25519"

	"plumbline/sync/entry"
)

// Admission is what the control entries held say of a device's certificate.
type Admission byte

// What can be said of a certificate.
const (
	Unknown  Admission = 0 // no grant that counts carries it
	Admitted Admission = 1
	Revoked  Admission = 2 // a cut that leaves nothing binds its device
)

// Admission judges a certificate as a peer shows it. The role of the returned
// one is what it still allows beyond the cuts that bind it.
func (v *Verdict) Admission(certificate []byte) (entry.Certificate, Admission) {
	id := entry.CertificateOf(certificate)
	cert, ok := v.Grants[id]
	if !ok {
		return entry.Certificate{}, Unknown
	}
	if cert.Role != entry.RoleDirector {
		cert.Role = entry.RoleScout // also one newer than this program
	}
	admission := Admitted
	for _, cut := range v.binding(id, cert) {
		cert.Role = entry.RoleScout
		if cut.Body.Beyond == entry.BeyondNothing {
			admission = Revoked
		}
	}
	return cert, admission
}

// Against is how many cuts bind a certificate.
func (v *Verdict) Against(cert entry.Certificate) int {
	return len(v.binding(entry.CertificateOf(cert.Encode()), cert))
}

func (v *Verdict) binding(id entry.CertificateID, cert entry.Certificate) []*heardCut {
	return v.cuts.binding(entry.DeviceOf(cert.Device), cert.Rank(), v.readmits[id])
}

// Admitted returns the devices that are members now, with their public keys.
func (v *Verdict) Admitted() map[entry.DeviceID]ed25519.PublicKey {
	members := map[entry.DeviceID]ed25519.PublicKey{}
	for _, c := range v.Grants {
		if _, admission := v.Admission(c.Encode()); admission == Admitted {
			members[entry.DeviceOf(c.Device)] = c.Device
		}
	}
	return members
}
