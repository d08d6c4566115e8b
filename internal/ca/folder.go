package ca

import (
	"os"
	"path/filepath"

	"packwright/internal/keydir"
	"packwright/internal/problem"
	"packwright/internal/safefile"
)

// readKeyFile reads a file with a key in it; fs.ErrNotExist where there is none.
func readKeyFile(dir, name string) ([]byte, error) {
	path := filepath.Join(dir, name)
	info, err := os.Stat(path)
	if err != nil {
		return nil, keydir.Explain(path, err)
	}
	if !info.Mode().IsRegular() {
		return nil, problem.New(problem.Conflict, "move it elsewhere, or choose another folder with --keys", "%s is not a file", path)
	}
	if keydir.Exposed(info) {
		return nil, problem.New(problem.Invalid,
			"run chmod 600 "+path+"; if somebody may have read it, delete "+authorityName+" and "+leafName+" there, and have every phone trust this machine anew",
			"other users of this machine may read the key in %s", path)
	}
	text, err := os.ReadFile(path)
	return text, keydir.Explain(path, err)
}

// writeKeyFile writes a file so that after a crash it is either the old or the
// new one, whole, and at no time readable by others.
func writeKeyFile(dir, name string, text []byte) error {
	path := filepath.Join(dir, name)
	return keydir.Explain(path, safefile.Write(path, text))
}
