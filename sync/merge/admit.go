package merge

import "plumbline/sync/entry"

// Admission is what the control entries held say of a device's certificate.
type Admission byte

// What can be said of a certificate.
const (
	Unknown  Admission = 0 // no grant that counts carries it
	Admitted Admission = 1
	Revoked  Admission = 2 // a cut that leaves nothing binds its device
)

// Admission judges a certificate as a peer shows it.
func (v *Verdict) Admission(certificate []byte) (entry.Certificate, Admission) {
	id := entry.CertificateOf(certificate)
	cert, ok := v.Grants[id]
	if !ok {
		return entry.Certificate{}, Unknown
	}
	for _, cut := range v.cuts.binding(entry.DeviceOf(cert.Device), cert.Rank(), v.readmits[id]) {
		if cut.Body.Beyond == entry.BeyondNothing {
			return cert, Revoked
		}
	}
	return cert, Admitted
}
