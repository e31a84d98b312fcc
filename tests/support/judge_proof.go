// Judges one C2SP tlog-proof v1 file by golang.org/x/mod; its form is read here, from the standard.
//
//	judge_proof VKEY ENTRY PROOF
//
// ENTRY is a file with the leaf's bytes. Ends with 0 and "INDEX SIZE", or with 1 and what is wrong.
package main

import (
	"encoding/base64"
	"fmt"
	"os"
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

func hash(text string) (h tlog.Hash) {
	data, err := base64.StdEncoding.Strict().DecodeString(text)
	must(err)
	if copy(h[:], data) != len(data) || len(data) != len(h) {
		must(fmt.Errorf("a hash of %d bytes", len(data)))
	}
	return h
}

func main() {
	verifier, err := note.NewVerifier(os.Args[1])
	must(err)
	leaf, err := os.ReadFile(os.Args[2])
	must(err)
	file, err := os.ReadFile(os.Args[3])
	must(err)
	head, signed, found := strings.Cut(string(file), "\n\n")
	lines := strings.Split(head, "\n")
	if !found || len(lines) < 2 || lines[0] != "c2sp.org/tlog-proof@v1" ||
		!strings.HasPrefix(lines[1], "index ") {
		must(fmt.Errorf("no tlog-proof"))
	}
	index, err := strconv.ParseInt(lines[1][len("index "):], 10, 64)
	must(err)
	var path tlog.RecordProof
	for _, line := range lines[2:] {
		path = append(path, hash(line))
	}
	opened, err := note.Open([]byte(signed), note.VerifierList(verifier))
	must(err)
	body := strings.Split(opened.Text, "\n")
	if len(body) != 4 || body[0] != verifier.Name() {
		must(fmt.Errorf("no checkpoint of %s", verifier.Name()))
	}
	size, err := strconv.ParseInt(body[1], 10, 64)
	must(err)
	must(tlog.CheckRecord(path, size, hash(body[2]), index, tlog.RecordHash(leaf)))
	fmt.Println(index, size)
}
