package main

import (
	"os"
	"path/filepath"
	"runtime"
)

// defaultDataDir is where the database lives unless --data says otherwise: the
// place the operating system keeps a user's application data in. It falls back
// to a folder beside the program's working directory where there is no home.
func defaultDataDir() string {
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" && filepath.IsAbs(dir) {
		return filepath.Join(dir, programName)
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return programName + "-data"
	}
	switch runtime.GOOS {
	case "windows":
		if dir := os.Getenv("LOCALAPPDATA"); dir != "" {
			return filepath.Join(dir, programName)
		}
		return filepath.Join(home, "AppData", "Local", programName)
	case "darwin":
		return filepath.Join(home, "Library", "Application Support", programName)
	}
	return filepath.Join(home, ".local", "share", programName)
}
