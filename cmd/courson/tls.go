package main

import (
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"sync"
	"time"
)

// overTLS makes a listener speak TLS with a certificate from files. When the files
// are renewed they are read again.
func overTLS(l net.Listener, certFile, keyFile string) (net.Listener, error) {
	c := &certificate{certFile: certFile, keyFile: keyFile}
	if _, err := c.get(nil); err != nil {
		return nil, err
	}
	return tls.NewListener(l, &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}, GetCertificate: c.get}), nil
}

// certificate is the pair of files, and when they were last read.
type certificate struct {
	certFile, keyFile string

	mu   sync.Mutex
	pair *tls.Certificate
	read [2]time.Time // times of the files as read
}

// get gives the certificate. While new files cannot be used, half written as they
// may be, the old one stays.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := [2]time.Time{changed(c.certFile), changed(c.keyFile)}
	if c.pair != nil && now == c.read {
		return c.pair, nil
	}
	pair, err := tls.LoadX509KeyPair(c.certFile, c.keyFile)
	if err == nil {
		c.pair, c.read = &pair, now
	}
	if c.pair == nil {
		return nil, fmt.Errorf("certificate %s with key %s: %w", c.certFile, c.keyFile, err)
	}
	return c.pair, nil
}

// changed is when a file was last written; zero where that cannot be seen.
func changed(name string) time.Time {
	info, err := os.Stat(name)
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}
