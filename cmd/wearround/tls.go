package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"wearround/server"
)

// certificate is a certificate and its key in files. A renewed one is taken
// without a restart.
type certificate struct {
	cert, key string

	mu   sync.Mutex
	made time.Time // of the certificate's file, when it was read
	pair *tls.Certificate
}

// loadCertificate reads the files once, so that a wrong name is an error at the
// start.
func loadCertificate(cert, key string) (*certificate, error) {
	c := &certificate{cert: cert, key: key}
	if _, err := c.current(); err != nil {
		return nil, fmt.Errorf("--tls-cert and --tls-key: %w", err)
	}
	return c, nil
}

// current gives the certificate, read again where its file has changed. One
// that cannot be read leaves the one before in use.
func (c *certificate) current() (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	info, err := os.Stat(c.cert)
	if err == nil && c.pair != nil && info.ModTime().Equal(c.made) {
		return c.pair, nil
	}
	if err == nil {
		var pair tls.Certificate
		if pair, err = tls.LoadX509KeyPair(c.cert, c.key); err == nil {
			c.pair, c.made = &pair, info.ModTime()
		}
	}
	if c.pair == nil {
		return nil, err
	}
	return c.pair, nil
}

// config is what the server serves with: TLS 1.2 or later.
func (c *certificate) config() *tls.Config {
	return &tls.Config{
		MinVersion:     tls.VersionTLS12,
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.current() },
	}
}

// name is one that the certificate is for.
func (c *certificate) name() string {
	if pair, err := c.current(); err == nil {
		if leaf, err := x509.ParseCertificate(pair.Certificate[0]); err == nil && len(leaf.DNSNames) > 0 {
			return leaf.DNSNames[0]
		}
	}
	return "localhost"
}

// names reports whether the certificate is for a host name.
func (c *certificate) names(host string) bool {
	pair, err := c.current()
	if err != nil {
		return false
	}
	leaf := pair.Leaf
	if leaf == nil {
		if leaf, err = x509.ParseCertificate(pair.Certificate[0]); err != nil {
			return false
		}
	}
	return leaf.VerifyHostname(host) == nil
}

// checkReach refuses settings that would send patients' data over a network in
// the clear, or that contradict each other.
func (c *config) checkReach(cert, key string) (err error) {
	switch {
	case (cert == "") != (key == ""):
		return errors.New("--tls-cert and --tls-key go together")
	case cert != "" && c.proxy != "":
		return errors.New("give either --tls-cert and --tls-key or --behind-proxy, not both")
	case cert != "":
		if c.certificate, err = loadCertificate(cert, key); err != nil {
			return err
		}
	}
	return server.CheckAddress(c.addr, c.reachable())
}

// reachable says that others may be served: what is sent is protected.
func (c *config) reachable() bool { return c.certificate != nil || c.proxy != "" }

// tls is what the server serves with, or nil.
func (c *config) tls() *tls.Config {
	if c.certificate == nil {
		return nil
	}
	return c.certificate.config()
}

// hosts says which names other than this machine's own are served.
func (c *config) hosts() func(string) bool {
	switch {
	case c.certificate != nil:
		return c.certificate.names
	case c.proxy != "":
		return func(host string) bool { return host == c.proxy }
	}
	return nil
}
