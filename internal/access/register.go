package access

import (
	"cmp"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"packwright/internal/problem"
)

// Options of Open. The zero value is good for a server.
type Options struct {
	Now  func() time.Time // nil: time.Now
	Rand io.Reader        // source of ids, codes and tokens; nil: crypto/rand
}

// Register is the open list of devices in one folder. All methods may be called
// at the same time from several goroutines. One process has a folder open.
type Register struct {
	o    Options
	path string

	mu          sync.Mutex
	devices     []member      // in the order of joining
	invitations []*invitation // oldest first; see Invite
	savedMS     int64         // when the file was last written
}

// member is a device with what proves that it is the one.
type member struct {
	Device
	Token tokenHash `json:"token_sha256"`
}

const (
	tokenBytes = 32
	idChars    = 10 // 50 random bits

	// maxDevices bounds the list, those taken off included: a team has thirty.
	maxDevices = 500
	// seenEvery is how often the times of last requests are written down.
	seenEvery = 5 * time.Minute
)

// Asking is what a device that wants to join says of itself.
type Asking struct {
	Code      string // as typed
	Name      string // of the device
	JournalID string // the device id in its entries; empty for another server
	From      string // whom wrong codes are counted for, such as a network address
}

// Join lets a device in for a code: it gives the device and its token, which
// nobody can ask for again. The code is used up only when the device is in the file.
//
// Errors are *problem.Error: Invalid for a name, an id or a code that cannot be
// one, which counts as no try; NotAllowed for a code that is wrong, used, expired,
// ended by wrong tries or closed to who asks; Conflict where the list is full;
// NoSpace where the disk is. A file that cannot be written for another reason gives an error of package os, and
// a fault of the random source that fault. Nobody is in then, and the code is still good.
func (r *Register) Join(a Asking) (Device, string, error) {
	name := strings.TrimSpace(a.Name)
	if err := cmp.Or(checkText("name", name, 1, maxNameChars), checkText("device", a.JournalID, 0, maxJournalIDChars)); err != nil {
		return Device{}, "", err
	}
	typed, err := readCode(a.Code)
	if err != nil {
		return Device{}, "", err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.nowMS()
	found, err := r.invited(typed, a.From, now)
	if err != nil {
		return Device{}, "", err
	}
	id, err := r.newID()
	if err != nil {
		return Device{}, "", err
	}
	secret := make([]byte, tokenBytes)
	if _, err := io.ReadFull(r.o.Rand, secret); err != nil {
		return Device{}, "", err
	}
	token := base64.RawURLEncoding.EncodeToString(secret)
	joined := member{Token: hashOf(token), Device: Device{
		ID: id, Name: name, Role: found.Role, JournalID: a.JournalID, JoinedMS: now, SeenMS: now, Unsent: -1}}
	devices, err := makeRoom(r.devices)
	if err != nil {
		return Device{}, "", err
	}
	if err := r.save(append(devices, joined)); err != nil {
		return Device{}, "", err
	}
	found.end = used
	return joined.Device, token, nil
}

// Check gives the device with a token. Errors are *problem.Error of kind
// NotJoined: there is none, or it was taken off the list.
func (r *Register) Check(token string) (Device, error) {
	if len(token) != base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return Device{}, stranger()
	}
	asked := hashOf(token)
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, m := range r.devices {
		if subtle.ConstantTimeCompare(m.Token[:], asked[:]) != 1 {
			continue
		}
		if m.RevokedMS != 0 {
			return Device{}, problem.New(problem.NotJoined,
				"what it recorded is still on it and can be exported; to join again, ask a lead for a new code",
				"this device was taken off the list")
		}
		return m.Device, nil
	}
	return Device{}, stranger()
}

func stranger() error {
	return problem.New(problem.NotJoined, "ask a lead for a code, and join with it", "this device has not joined")
}

// Seen notes a request of a device, and how many entries it says it has still to
// send; a negative number says nothing of them. It is written down now and then
// only, and at Close: losing it costs nothing.
func (r *Register) Seen(id string, unsent int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	i := r.index(id)
	if i < 0 {
		return
	}
	now := r.nowMS()
	r.devices[i].SeenMS = now
	if unsent >= 0 {
		r.devices[i].Unsent = unsent
	}
	if now-r.savedMS >= seenEvery.Milliseconds() {
		r.savedMS = now // a full disk is not tried again at each request
		_ = r.save(r.devices)
	}
}

// List gives every device in the order of joining, those taken off included.
func (r *Register) List() []Device {
	r.mu.Lock()
	defer r.mu.Unlock()
	list := make([]Device, len(r.devices))
	for i, m := range r.devices {
		list[i] = m.Device
	}
	return list
}

// Revoke takes a device off the list: its token is worth nothing from now on, and
// cannot be given back. The last lead may go too, since the machine itself is one.
// Errors: NotFound, NoSpace, or of package os; nothing has changed then.
func (r *Register) Revoke(id string) error {
	return r.change(id, func(d *Device, nowMS int64) {
		if d.RevokedMS == 0 {
			d.RevokedMS = nowMS
		}
	})
}

// Rename gives a device another name. Errors: Invalid, and those of Revoke.
func (r *Register) Rename(id, name string) error {
	name = strings.TrimSpace(name)
	if err := checkText("name", name, 1, maxNameChars); err != nil {
		return err
	}
	return r.change(id, func(d *Device, _ int64) { d.Name = name })
}

// SetRole gives a device another role, from its next request on. Errors: Invalid,
// and those of Revoke.
func (r *Register) SetRole(id string, role Role) error {
	if err := role.check(); err != nil {
		return err
	}
	return r.change(id, func(d *Device, _ int64) { d.Role = role })
}

// Device gives the device with an id, also one that was taken off. Error: NotFound.
func (r *Register) Device(id string) (Device, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	i := r.index(id)
	if i < 0 {
		return Device{}, noDevice(id)
	}
	return r.devices[i].Device, nil
}

// Close writes down when devices were last seen. The register stays usable.
// Errors: NoSpace, or of package os.
func (r *Register) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.devices) == 0 {
		return nil
	}
	return r.save(r.devices)
}

// change edits a copy of a device, and keeps it when it is in the file. Where it
// takes a lead away, open invitations end: he may know their codes.
func (r *Register) change(id string, edit func(d *Device, nowMS int64)) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	i := r.index(id)
	if i < 0 {
		return noDevice(id)
	}
	changed := slices.Clone(r.devices)
	wasLead := changed[i].Role == Lead && changed[i].RevokedMS == 0
	edit(&changed[i].Device, r.nowMS())
	if err := r.save(changed); err != nil {
		return err
	}
	if now := changed[i].Device; wasLead && (now.Role != Lead || now.RevokedMS != 0) {
		for _, i := range r.invitations {
			if i.end == open {
				i.end = withdrawn
			}
		}
	}
	return nil
}

func noDevice(id string) error {
	return problem.New(problem.NotFound, "look at the list of devices again", "there is no device %q", short(id))
}

func (r *Register) index(id string) int {
	return slices.IndexFunc(r.devices, func(m member) bool { return m.ID == id })
}

// makeRoom gives a list that one more device fits in. Where it is full, the
// device that was taken off first is forgotten.
func makeRoom(devices []member) ([]member, error) {
	devices = slices.Clone(devices)
	if len(devices) < maxDevices {
		return devices, nil
	}
	oldest := -1
	for i, m := range devices {
		if m.RevokedMS != 0 && (oldest < 0 || m.RevokedMS < devices[oldest].RevokedMS) {
			oldest = i
		}
	}
	if oldest < 0 {
		return nil, problem.New(problem.Conflict, "take off those that are gone", "the list holds %d devices and is full", maxDevices)
	}
	return slices.Delete(devices, oldest, oldest+1), nil
}

// newID draws an id that no device has or had.
func (r *Register) newID() (string, error) {
	for range 8 {
		id, err := randomText(r.o.Rand, idChars)
		if err != nil || r.index(id) < 0 {
			return id, err
		}
	}
	return "", errors.New("the random source repeats itself")
}

func (r *Register) nowMS() int64 { return r.o.Now().UnixMilli() }

// tokenHash is what is kept of a token.
type tokenHash [sha256.Size]byte

func hashOf(token string) tokenHash { return sha256.Sum256([]byte(token)) }

// withDefaults fills in what was left out.
func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Rand == nil {
		o.Rand = rand.Reader
	}
	return o
}
