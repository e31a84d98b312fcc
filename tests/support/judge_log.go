// Judges a log by golang.org/x/mod's sumdb/note and sumdb/tlog, which share nothing with the program.
//
//	go run judge_log.go FILE
//
// Lines of the file, hashes and texts in padded base64:
//
//	vkey VKEY
//	note TEXT                          a checkpoint that this key must have signed
//	forged TEXT                        one that must be refused
//	entry BYTES                        the next leaf
//	record INDEX SIZE ROOT HASH...     a proof that must hold for the leaf INDEX
//	grown OLD NEW ROOT ROOT HASH...    a proof that must hold for these trees
//
// It ends with how many of each held, or with 1 and what did not.
package main

import (
	"bufio"
	"encoding/base64"
	"fmt"
	"os"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

var verifiers note.Verifiers
var leaves []tlog.Hash
var held = map[string]int{}

func fail(line string, err error) {
	if len(line) > 100 {
		line = line[:100]
	}
	fmt.Println("does not hold:", line, err)
	os.Exit(1)
}

func decode(text string) []byte {
	data, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		fail(text, err)
	}
	return data
}

func number(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		fail(text, err)
	}
	return n
}

func hash(text string) (h tlog.Hash) {
	if copy(h[:], decode(text)) != len(h) {
		fail(text, nil)
	}
	return h
}

func hashes(texts []string) (list []tlog.Hash) {
	for _, text := range texts {
		list = append(list, hash(text))
	}
	return list
}

func judge(words []string) error {
	switch words[0] {
	case "vkey":
		verifier, err := note.NewVerifier(words[1])
		verifiers = note.VerifierList(verifier)
		return err
	case "note":
		_, err := note.Open(decode(words[1]), verifiers)
		return err
	case "forged":
		if _, err := note.Open(decode(words[1]), verifiers); err == nil {
			return fmt.Errorf("was accepted")
		}
		return nil
	case "entry":
		leaves = append(leaves, tlog.RecordHash(decode(words[1])))
		return nil
	case "record":
		index := number(words[1])
		return tlog.CheckRecord(tlog.RecordProof(hashes(words[4:])), number(words[2]),
			hash(words[3]), index, leaves[index])
	case "grown":
		return tlog.CheckTree(tlog.TreeProof(hashes(words[5:])), number(words[2]),
			hash(words[4]), number(words[1]), hash(words[3]))
	}
	return fmt.Errorf("is not understood")
}

func main() {
	file, err := os.Open(os.Args[1])
	if err != nil {
		fail(os.Args[1], err)
	}
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		words := strings.Split(lines.Text(), " ")
		if err := judge(words); err != nil {
			fail(lines.Text(), err)
		}
		held[words[0]]++
	}
	if err := lines.Err(); err != nil {
		fail("the file", err)
	}
	fmt.Printf("%d notes, %d forged, %d entries, %d records, %d grown\n", held["note"],
		held["forged"], held["entry"], held["record"], held["grown"])
}
