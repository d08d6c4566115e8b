package store

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"

	"packwright/internal/tinydisk"
)

// disk is a file system in a file. What the file holds at any moment is what
// a real disk would hold if the power went at that moment: writes that were
// not synced are still in memory.
type disk struct {
	image string
	root  string
}

func newDisk(t *testing.T) disk {
	t.Helper()
	tinydisk.MayMount(t)
	for _, tool := range []string{"mkfs.ext4", "mount"} {
		if _, err := exec.LookPath(tool); err != nil && os.Getenv("CI") != "" {
			t.Fatalf("a disk in a file needs %s: %v", tool, err)
		} else if err != nil {
			t.Skipf("a disk in a file needs %s: %v", tool, err)
		}
	}
	image := filepath.Join(t.TempDir(), "image")
	if err := os.WriteFile(image, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(image, 24<<20); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mkfs.ext4", "-q", image).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	return mount(t, image)
}

func mount(t *testing.T, image string) disk {
	t.Helper()
	d := disk{image, t.TempDir()}
	if out, err := exec.Command("mount", "-o", "loop", image, d.root).CombinedOutput(); err != nil {
		if _, missing := os.Stat("/dev/loop-control"); missing != nil {
			t.Skipf("NOT CHECKED here, there are no loop devices: what a power cut does: %v %s", err, out)
		}
		t.Fatalf("%v %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", "-l", d.root).CombinedOutput(); err != nil {
			t.Errorf("%v %s", err, out)
		}
	})
	return d
}

// powerCut gives the disk as it would be found after a power cut now.
func (d disk) powerCut(t *testing.T) (image string) {
	t.Helper()
	from, err := os.Open(d.image)
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	to, err := os.Create(filepath.Join(t.TempDir(), "image"))
	if err != nil {
		t.Fatal(err)
	}
	defer to.Close()
	if _, err := io.Copy(to, from); err != nil {
		t.Fatal(err)
	}
	return to.Name()
}

// Whatever was acknowledged is on the disk after a power cut at that moment.
func TestPowerCut(t *testing.T) {
	d := newDisk(t)
	dir := filepath.Join(d.root, "data")
	s := openWith(t, dir, Options{spare: 1})
	epoch, _ := s.Head()
	acked := ledger{}
	type cut struct {
		image string
		acked int
	}
	cuts := []cut{{d.powerCut(t), 0}}
	for n := range 8 {
		raws := notes(5*n, 5*n+5)
		acked.add(raws, push(t, s, raws...))
		cuts = append(cuts, cut{d.powerCut(t), len(acked)})
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	cuts = append(cuts, cut{d.powerCut(t), len(acked)})
	for _, c := range cuts {
		after := mount(t, c.image)
		s := openWith(t, filepath.Join(after.root, "data"), Options{spare: 1})
		ledgerOf(notes(0, c.acked)...).check(t, s, acked)
		if now, _ := s.Head(); now != epoch || s.Report().Doubt != "" {
			t.Errorf("after %d entries: epoch %s, was %s: %+v", c.acked, now, epoch, s.Report())
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// The power goes at each step of a repair.
func TestPowerCutInRepair(t *testing.T) {
	d := newDisk(t)
	dir := filepath.Join(d.root, "data")
	s := openWith(t, dir, Options{spare: 1})
	push(t, s, notes(0, 20)...)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	flip(t, filepath.Join(dir, journalName), 2000, 1)
	root, err := os.Open(d.root)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(unix.Syncfs(int(root.Fd())), root.Close()); err != nil {
		t.Fatal(err)
	}
	images := map[string]string{}
	openWith(t, dir, Options{spare: 1, at: func(point string) error {
		images[point] = d.powerCut(t)
		return nil
	}})
	images["repaired"] = d.powerCut(t)
	for point, image := range images {
		t.Run(point, func(t *testing.T) {
			after := mount(t, image)
			s := openWith(t, filepath.Join(after.root, "data"), Options{spare: 1})
			ledgerOf(notes(0, 20)...).check(t, s, nil)
			if aside, _ := filepath.Glob(filepath.Join(s.dir, "journal.cut-*")); len(aside) == 0 {
				t.Error("the bad line was not kept")
			}
		})
	}
	if len(images) != 3 {
		t.Errorf("cut at %d points", len(images))
	}
}
