package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// certify writes a certificate of its own authority for a host name and this
// machine, and gives the certificate as one to trust.
func certify(t *testing.T, cert, key, host string, serial int64) *x509.CertPool {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: host}, DNSNames: []string{host}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	public := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for name, data := range map[string][]byte{cert: public, key: pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})} {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(public)
	return pool
}

// TestServeOverTLS starts the real thing for the first time: it prints the
// set-up link, answers under the certificate's name and no other, over TLS
// alone, and takes a renewed certificate without a restart.
func TestServeOverTLS(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	trusted := certify(t, cert, key, "round.example", 1)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	out := &watched{want: "/set-up/", seen: make(chan struct{})}
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, []string{"serve", "--data", filepath.Join(dir, "data"), "--addr", "127.0.0.1:0", "--tls-cert", cert, "--tls-key", key}, out, io.Discard)
	}()
	select {
	case <-out.seen:
	case s := <-status:
		t.Fatalf("serve ended with status %d: %s", s, out)
	case <-time.After(time.Minute):
		t.Fatalf("no set-up link is printed: %s", out)
	}
	link := regexp.MustCompile(`https://\S+/set-up/[\w-]+`).FindString(out.String())
	get := func(address, host string, trust *x509.CertPool) *http.Response {
		t.Helper()
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust}, DisableKeepAlives: true}}
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		resp, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp
	}
	first := get(link, "round.example", trusted)
	if first.StatusCode != http.StatusOK || first.Header.Get("Strict-Transport-Security") == "" || first.TLS.Version < tls.VersionTLS12 {
		t.Errorf("the set-up link: status %d, %v", first.StatusCode, first.Header)
	}
	if got := get(link, "elsewhere.example", trusted); got.StatusCode != http.StatusForbidden {
		t.Errorf("under a name that the certificate is not for: status %d", got.StatusCode)
	}
	if resp, err := http.Get(strings.Replace(link, "https", "http", 1)); err == nil {
		resp.Body.Close()
		if resp.StatusCode != http.StatusBadRequest {
			t.Errorf("in the clear: status %d", resp.StatusCode)
		}
	}
	renewed := certify(t, cert, key, "round.example", 2)
	if err := os.Chtimes(cert, time.Now(), time.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if got := get(link, "round.example", renewed); got.TLS.PeerCertificates[0].SerialNumber.Int64() != 2 {
		t.Error("the renewed certificate is not taken")
	}
	stop()
	if s := <-status; s != exitOK {
		t.Errorf("status %d", s)
	}
}
