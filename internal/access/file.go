package access

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"packwright/internal/problem"
	"packwright/internal/safefile"
)

// fileName is the list of devices in the folder.
const fileName = "devices.json"

// fileVersion is raised when an older program could not keep what a newer wrote.
const fileVersion = 1

// fileContent is what the file holds. It has no secrets: a hash lets nobody in.
type fileContent struct {
	V       int      `json:"v"`
	Devices []member `json:"devices"`
}

// Open reads the list in a folder, which it makes where it is missing, for this
// user only. Nothing is written before the first device joins.
//
// Errors: Damaged for a list that cannot be read, Unsupported for one of a newer
// version; both leave the file alone. Otherwise of package os.
func Open(dir string, o Options) (*Register, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder for the list of devices: %w", err)
	}
	r := &Register{o: o.withDefaults(), path: filepath.Join(dir, fileName)}
	text, err := os.ReadFile(r.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return r, nil
	case err != nil:
		return nil, fmt.Errorf("the list of devices: %w", err)
	}
	if r.devices, err = parse(r.path, text); err != nil {
		return nil, err
	}
	r.savedMS = r.nowMS()
	return r, nil
}

func parse(path string, text []byte) ([]member, error) {
	var version struct {
		V int `json:"v"`
	}
	if err := json.Unmarshal(text, &version); err == nil && version.V > fileVersion {
		return nil, problem.New(problem.Unsupported, "use the newer packwright that wrote it", "the list of devices in %s has version %d, and this program knows %d",
			path, version.V, fileVersion)
	}
	var content fileContent
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	err := dec.Decode(&content)
	if err == nil {
		if _, extra := dec.Token(); extra != io.EOF {
			err = errors.New("something follows the list")
		}
	}
	if err == nil {
		err = content.check()
	}
	if err != nil {
		return nil, problem.New(problem.Damaged,
			"put a copy of the file back; or move it elsewhere, and every device has to join again",
			"the list of devices in %s is damaged: %v", path, err)
	}
	return content.Devices, nil
}

// check refuses a list that this program cannot have written.
func (c fileContent) check() error {
	if c.V != fileVersion {
		return fmt.Errorf("it has version %d", c.V)
	}
	if len(c.Devices) > maxDevices {
		return fmt.Errorf("it has %d devices", len(c.Devices))
	}
	ids, tokens := map[string]bool{}, map[tokenHash]bool{}
	for n, m := range c.Devices {
		err := errors.Join(m.Role.check(), checkText("id", m.ID, 1, idChars), checkText("name", m.Name, 1, maxNameChars),
			checkText("device", m.JournalID, 0, maxJournalIDChars))
		switch {
		case err != nil:
			return fmt.Errorf("device %d: %w", n+1, err)
		case ids[m.ID] || tokens[m.Token]:
			return fmt.Errorf("device %d is there twice", n+1)
		case m.Token == tokenHash{}:
			return fmt.Errorf("device %d has no token", n+1)
		}
		ids[m.ID], tokens[m.Token] = true, true
	}
	return nil
}

// save writes the list durably and only then takes it over.
func (r *Register) save(devices []member) error {
	text, err := json.MarshalIndent(fileContent{V: fileVersion, Devices: devices}, "", "  ")
	if err != nil {
		return err
	}
	if err := safefile.Write(r.path, append(text, '\n')); err != nil {
		if _, shown := problem.As(err); shown {
			return err
		}
		return fmt.Errorf("write the list of devices: %w", err)
	}
	r.devices, r.savedMS = devices, r.nowMS()
	return nil
}

// MarshalText writes a hash as hexadecimal digits.
func (h tokenHash) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, h[:]), nil }

// UnmarshalText reads what MarshalText wrote.
func (h *tokenHash) UnmarshalText(text []byte) error {
	if len(text) != hex.EncodedLen(len(h)) {
		return hex.ErrLength
	}
	_, err := hex.Decode(h[:], text)
	return err
}
