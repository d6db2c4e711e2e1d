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
	cert, ok := v.Grants[entry.CertificateOf(certificate)]
	if !ok {
		return entry.Certificate{}, Unknown
	}
	for _, cut := range v.Cuts {
		if cut.Body.Device == entry.DeviceOf(cert.Device) && cut.Body.Beyond == entry.BeyondNothing && v.binds(cut, cert) {
			return cert, Revoked
		}
	}
	return cert, Admitted
}

func (v *Verdict) binds(cut Cut, cert entry.Certificate) bool {
	return cut.Author.Above(cert.Rank()) && !cut.spares(v.readmits[entry.CertificateOf(cert.Encode())])
}
