package batchfile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"

	"spile/batch"
)

// ReadBatch reads the batch file at path.
func ReadBatch(path string) (*batch.Batch, error) {
	f, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return DecodeBatch(path, f)
}

// ReadLog reads the readings file at path, of the batch b. A file that is too
// large is refused before it is read.
func ReadLog(path string, b *batch.Batch) (batch.Log, error) {
	f, err := Open(path)
	if err != nil {
		return batch.Log{}, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.Mode().IsRegular() && info.Size() > MaxReadingsBytes {
		refused := TooLarge(path, 1)
		refused.Read = fmt.Sprintf("a file of %d MB", info.Size()>>20)
		return batch.Log{}, refused
	}
	return DecodeLog(path, f, b)
}

// Open refuses what cannot be opened as bad input: the name is the user's.
func Open(path string) (*os.File, error) {
	f, err := os.Open(path)
	if os.IsNotExist(err) {
		return nil, &Refusal{path, 0, "no such file", "the path of a file is accepted"}
	}
	if err != nil {
		return nil, &Refusal{path, 0, "it cannot be opened", "a file that may be read is accepted"}
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, &Refusal{path, 0, "a folder", "the path of a file is accepted"}
	}
	return f, nil
}

// WriteAtomic writes a file whole or not at all: beside it first, then renamed.
func WriteAtomic(path string, data []byte) error { return writeWhole(path, data, 0o644) }

// WriteSecret does so with what none but the user who runs Spile may read.
func WriteSecret(path string, data []byte) error { return writeWhole(path, data, 0o600) }

func writeWhole(path string, data []byte, mode os.FileMode) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = f.Chmod(mode); err != nil {
		return err
	}
	if _, err = f.Write(data); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder puts the names in a folder on the disk, where the system lets a folder be synced.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
