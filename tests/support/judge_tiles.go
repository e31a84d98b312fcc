// Judges a published folder (C2SP tlog-tiles, tlog-checkpoint, tlog-cosignature) by
// golang.org/x/mod: its tiles are read back through tlog.TileHashReader, which proves each against
// the signed root.
//
//	judge_tiles FOLDER VKEY [-old CHECKPOINT] [-witness VKEY] [-entries]
//
// Ends with 0 and "SIZE" (and " SECONDS" of the cosignature), or with 1 and what is wrong.
package main

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

func must(err error) {
	if err != nil {
		fmt.Println("does not hold:", err)
		os.Exit(1)
	}
}

// A cosigner: key type 04, "cosignature/v1" with the time in front of the text.
type witness struct {
	name string
	hash uint32
	key  ed25519.PublicKey
	when uint64
}

func (w *witness) Name() string    { return w.name }
func (w *witness) KeyHash() uint32 { return w.hash }
func (w *witness) Verify(text, sig []byte) bool {
	if len(sig) != 8+ed25519.SignatureSize {
		return false
	}
	w.when = binary.BigEndian.Uint64(sig)
	message := fmt.Sprintf("cosignature/v1\ntime %d\n%s", w.when, text)
	return ed25519.Verify(w.key, []byte(message), sig[8:])
}

func newWitness(vkey string) *witness {
	part := strings.SplitN(vkey, "+", 3)
	hash, err := strconv.ParseUint(part[1], 16, 32)
	must(err)
	key, err := base64.StdEncoding.Strict().DecodeString(part[2])
	must(err)
	if len(key) != 33 || key[0] != 4 {
		must(fmt.Errorf("no witness's key"))
	}
	return &witness{part[0], uint32(hash), key[1:], 0}
}

// The tiles of a folder: x/mod asks with its own names, which have the height in them.
type tiles struct{ folder string }

func (t tiles) Height() int                                { return 8 }
func (t tiles) SaveTiles(asked []tlog.Tile, data [][]byte) {}
func (t tiles) ReadTiles(asked []tlog.Tile) ([][]byte, error) {
	var out [][]byte
	for _, tile := range asked {
		name := strings.Replace(tile.Path(), "tile/8/", "tile/", 1)
		data, err := os.ReadFile(filepath.Join(t.folder, name))
		if err != nil {
			return nil, err
		}
		if len(data) != tile.W*tlog.HashSize {
			return nil, fmt.Errorf("%s has %d bytes", name, len(data))
		}
		out = append(out, data)
	}
	return out, nil
}

func open(path string, verifiers ...note.Verifier) tlog.Tree {
	data, err := os.ReadFile(path)
	must(err)
	opened, err := note.Open(data, note.VerifierList(verifiers...))
	must(err)
	if len(opened.Sigs) != len(verifiers) {
		must(fmt.Errorf("%d of %d signatures", len(opened.Sigs), len(verifiers)))
	}
	line := strings.Split(opened.Text, "\n")
	if len(line) != 4 || line[0] != verifiers[0].Name() {
		must(fmt.Errorf("no checkpoint of %s", verifiers[0].Name()))
	}
	size, err := strconv.ParseInt(line[1], 10, 64)
	must(err)
	root, err := base64.StdEncoding.Strict().DecodeString(line[2])
	must(err)
	tree := tlog.Tree{N: size}
	if copy(tree.Hash[:], root) != tlog.HashSize {
		must(fmt.Errorf("a short root"))
	}
	return tree
}

// Each entry of the bundles is the leaf whose hash the tiles hold.
func checkEntries(folder string, tree tlog.Tree, reader tlog.HashReader) {
	for n := int64(0); n*256 < tree.N; n++ {
		width := tree.N - n*256
		if width > 256 {
			width = 256
		}
		tile := tlog.Tile{H: 8, L: -1, N: n, W: int(width)}
		name := strings.Replace(tile.Path(), "tile/8/data/", "tile/entries/", 1)
		data, err := os.ReadFile(filepath.Join(folder, name))
		must(err)
		for i := int64(0); i < width; i++ {
			size := int(binary.BigEndian.Uint16(data))
			hashes, err := reader.ReadHashes([]int64{tlog.StoredHashIndex(0, n*256+i)})
			must(err)
			if tlog.RecordHash(data[2:2+size]) != hashes[0] {
				must(fmt.Errorf("entry %d is another", n*256+i))
			}
			data = data[2+size:]
		}
		if len(data) != 0 {
			must(fmt.Errorf("%s is too long", name))
		}
	}
}

func main() {
	folder := os.Args[1]
	log, err := note.NewVerifier(os.Args[2])
	must(err)
	verifiers := []note.Verifier{log}
	var cosigner *witness
	old, entries := "", false
	for i := 3; i < len(os.Args); i++ {
		switch os.Args[i] {
		case "-old":
			i++
			old = os.Args[i]
		case "-witness":
			i++
			cosigner = newWitness(os.Args[i])
			verifiers = append(verifiers, cosigner)
		case "-entries":
			entries = true
		}
	}
	tree := open(filepath.Join(folder, "checkpoint"), verifiers...)
	reader := tlog.TileHashReader(tree, tiles{folder})
	root, err := tlog.TreeHash(tree.N, reader)
	must(err)
	if root != tree.Hash {
		must(fmt.Errorf("the tiles give another root"))
	}
	for i := int64(0); i < tree.N; i++ {
		proof, err := tlog.ProveRecord(tree.N, i, reader)
		must(err)
		hashes, err := reader.ReadHashes([]int64{tlog.StoredHashIndex(0, i)})
		must(err)
		must(tlog.CheckRecord(proof, tree.N, tree.Hash, i, hashes[0]))
	}
	if old != "" {
		before := open(old, log)
		proof, err := tlog.ProveTree(tree.N, before.N, reader)
		must(err)
		must(tlog.CheckTree(proof, tree.N, tree.Hash, before.N, before.Hash))
	}
	if entries {
		checkEntries(folder, tree, reader)
	}
	fmt.Print(tree.N)
	if cosigner != nil {
		fmt.Print(" ", cosigner.when)
	}
	fmt.Println()
}
