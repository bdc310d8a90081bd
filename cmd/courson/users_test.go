package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
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

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const testPassword = "vier Reben am Hang"

// typing runs the program with something on standard input.
func typing(input string, args ...string) (status int, stdout, stderr string) {
	var out, errs bytes.Buffer
	status = runWith(context.Background(), args, strings.NewReader(input), &out, &errs)
	return status, out.String(), errs.String()
}

func smallEstate(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "estate.gpkg")
	status, _, errs := courson("demo", "--no-serve", "--vines", "500", "--data", file)
	require.Equal(t, exitDone, status, errs)
	return file
}

func TestUser_Commands(t *testing.T) {
	file := smallEstate(t)
	for _, c := range []struct {
		name   string
		input  string
		args   []string
		status int
		says   string
	}{
		{"nobody yet", "", []string{"list"}, exitDone, "there are no users"},
		{"no role", testPassword, []string{"add", "Ada"}, exitUsage, "--role"},
		{"no such role", testPassword, []string{"add", "Ada", "--role", "owner"}, exitUsage, "--role must be one of"},
		{"password as an argument", "", []string{"add", "Ada", testPassword, "--role", "manager"}, exitUsage, "unexpected argument"},
		{"no password", "", []string{"add", "Ada", "--role", "manager"}, exitUsage, "standard input"},
		{"short password", "short\n", []string{"add", "Ada", "--role", "manager"}, exitFailed, "at least 12"},
		{"first user no manager", testPassword, []string{"add", "Ada", "--role", "viewer"}, exitFailed, "manager"},
		{"first user", testPassword + "\r\n", []string{"add", "Ada", "--role", "manager"}, exitDone, "Ada may sign in now, as manager"},
		{"the same again", testPassword, []string{"add", "ADA", "--role", "viewer"}, exitFailed, "already"},
		{"crew without its name", testPassword, []string{"add", "Ben", "--role", "crew"}, exitFailed, "name of the crew"},
		{"crew", testPassword, []string{"add", "Ben", "--role", "crew", "--crew", "North"}, exitDone, "as crew"},
		{"listed", "", []string{"list"}, exitDone, "manager"},
		{"last manager", "", []string{"remove", "Ada"}, exitFailed, "always be a manager"},
		{"nobody of that name", "", []string{"remove", "Zoe"}, exitFailed, "not found"},
		{"removed", "", []string{"remove", "ben"}, exitDone, "may not sign in"},
		{"new password", testPassword + " 2\n", []string{"password", "Ada"}, exitDone, "new password"},
		{"new password of nobody", testPassword, []string{"password", "Ben"}, exitFailed, "not found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := typing(c.input, append(append([]string{"user"}, c.args...), "--data", file)...)
			assert.Equal(t, c.status, status, "stderr: %s", errs)
			assert.Contains(t, out+errs, c.says)
			if c.name != "password as an argument" { // there the person showed it, and it is refused
				assert.NotContains(t, out+errs, testPassword)
			}
			assert.NotContains(t, out+errs, "argon2")
		})
	}
}

func TestServe_BeyondThisMachine(t *testing.T) {
	file := smallEstate(t)
	for name, args := range map[string][]string{
		"all addresses":  {"--addr", "0.0.0.0:0"},
		"no address":     {"--addr", ":0"},
		"a host name":    {"--addr", "vines.invalid:0"},
		"behind a proxy": {"--public-url", "https://vines.example"},
	} {
		t.Run(name, func(t *testing.T) {
			status, _, errs := courson(append([]string{"serve", "--data", file}, args...)...)
			assert.Equal(t, exitUsage, status)
			assert.Contains(t, errs, "there are no users yet")
			assert.Contains(t, errs, "courson user add")
		})
	}
	for name, args := range map[string][]string{
		"--tls-key":              {"--tls-cert", "x.pem"},
		"--open-on-this-machine": {"--open-on-this-machine", "--public-url", "https://vines.example"},
		"--session-life":         {"--session-idle", "2h", "--session-life", "1h"},
	} {
		t.Run(name, func(t *testing.T) {
			status, _, errs := courson(append([]string{"serve", "--data", file}, args...)...)
			assert.Equal(t, exitUsage, status)
			assert.Contains(t, errs, name)
		})
	}
}

// With users it serves every address, and asks who it is on this machine too.
func TestServe_WithUsers(t *testing.T) {
	file := smallEstate(t)
	status, _, errs := typing(testPassword, "user", "add", "Ada", "--role", "manager", "--data", file)
	require.Equal(t, exitDone, status, errs)
	status, _, errs = courson("serve", "--data", file, "--addr", "127.0.0.1:0", "--tls-cert", file, "--tls-key", file)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "certificate")

	cert, key, pool := certificateFiles(t)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: true, DisableKeepAlives: true}}
	for _, c := range []struct {
		name         string
		args         []string
		cookie       string
		open, warned bool
	}{
		{"https", []string{"--addr", "0.0.0.0:0", "--tls-cert", cert, "--tls-key", key}, "__Host-courson", false, false},
		{"without https", []string{"--addr", "0.0.0.0:0"}, "courson", false, true},
		{"this machine", []string{"--addr", "127.0.0.1:0"}, "courson", false, false},
		{"open on this machine", []string{"--addr", "127.0.0.1:0", "--open-on-this-machine"}, "courson", true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			at, stop := serving(t, append([]string{"serve", "--data", file}, c.args...)...)
			res, err := client.Get(at + "/api/estate")
			require.NoError(t, err)
			res.Body.Close()
			if c.open {
				assert.Equal(t, http.StatusOK, res.StatusCode)
			} else {
				assert.Equal(t, http.StatusUnauthorized, res.StatusCode)
			}
			body, err := json.Marshal(map[string]string{"name": "ada", "password": testPassword})
			require.NoError(t, err)
			res, err = client.Post(at+"/api/signin", "application/json", bytes.NewReader(body))
			require.NoError(t, err)
			res.Body.Close()
			require.Equal(t, http.StatusOK, res.StatusCode)
			require.Len(t, res.Cookies(), 1)
			assert.Equal(t, c.cookie, res.Cookies()[0].Name)
			assert.Equal(t, strings.HasPrefix(at, "https:"), res.Cookies()[0].Secure)
			if strings.HasPrefix(at, "https:") {
				assert.Equal(t, 2, res.ProtoMajor, "HTTP/2")
			}
			assert.Equal(t, c.warned, strings.Contains(stop(), "without https"))
		})
	}
}

// serving starts the program and gives its address on this machine. stop ends it
// and gives what it wrote to stderr.
func serving(t *testing.T, args ...string) (at string, stop func() string) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, w := io.Pipe()
	status := make(chan int, 1)
	var errs bytes.Buffer
	go func() {
		status <- run(ctx, args, w, &errs)
		w.Close()
	}()
	lines := bufio.NewScanner(r)
	for at == "" && lines.Scan() {
		if m := regexp.MustCompile(`(https?)://\S+:(\d+)`).FindStringSubmatch(lines.Text()); m != nil {
			at = m[1] + "://127.0.0.1:" + m[2]
		}
	}
	go io.Copy(io.Discard, r)
	ended := false
	stop = func() string {
		cancel()
		if !ended {
			ended = true
			select {
			case s := <-status:
				assert.Equal(t, exitDone, s, errs.String())
			case <-time.After(20 * time.Second):
				t.Fatal("did not stop")
			}
		}
		return errs.String()
	}
	t.Cleanup(func() { stop() })
	if at == "" {
		t.Fatal(stop())
	}
	return at, stop
}

// certificateFiles makes a certificate for this machine that lasts an hour.
func certificateFiles(t *testing.T) (cert, key string, pool *x509.CertPool) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "courson test"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	require.NoError(t, err)
	raw, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw}), 0o600))
	pool = x509.NewCertPool()
	parsed, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	pool.AddCert(parsed)
	return cert, key, pool
}

// A renewed certificate is used without a new start; a broken one is not.
func TestCertificate_Renewed(t *testing.T) {
	cert, key, _ := certificateFiles(t)
	next, nextKey, _ := certificateFiles(t)
	c := &certificate{certFile: cert, keyFile: key}
	first, err := c.get(nil)
	require.NoError(t, err)
	replace(t, cert, []byte("half written"))
	still, err := c.get(nil)
	require.NoError(t, err)
	assert.Equal(t, first.Certificate, still.Certificate)
	for from, to := range map[string]string{next: cert, nextKey: key} {
		body, err := os.ReadFile(from)
		require.NoError(t, err)
		replace(t, to, body)
	}
	second, err := c.get(nil)
	require.NoError(t, err)
	assert.NotEqual(t, first.Certificate, second.Certificate)
}

func replace(t *testing.T, name string, body []byte) {
	t.Helper()
	require.NoError(t, os.WriteFile(name, body, 0o600))
	later := time.Now().Add(time.Minute)
	require.NoError(t, os.Chtimes(name, later, later))
}
